def test_the_month_in_the_terminal_and_in_a_file(run, ask, number, tmp_path):
    ask("job", "close", number, "hand_back", "--received", "36")
    code, found = ask("ledger", "2026-03", "--csv", tmp_path / "march.csv")
    assert (code, found["received_minor"], len(found["lines"])) == (0, 3600, 1)
    assert (tmp_path / "march.csv").read_text("utf-8").startswith("job,closed,title")
    assert "36.00 EUR received" in run("ledger")[1]
    assert run("ledger", "March")[0] == 2
