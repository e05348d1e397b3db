def test_what_a_guarantee_costs(run, ask):
    code, text = run("guarantee", "--family", "bench", "--age", 6, "--price", "5")
    assert code == 0
    assert "for 5.00 EUR" in text
    code, found = ask("guarantee", "--family", "bench", "--repair", "replace_dampers")
    assert (code, len(found["repairs"])) == (0, 1)
    assert run("guarantee", "--family", "pram")[0] == 2
