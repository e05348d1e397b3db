import pytest


def test_worth_of_a_repair(ask, run):
    code, found = ask("worth", "--age", 9, "--price", "249.50", "--used", "90", "--holds", 0.9)
    assert code == 0
    assert found["pays"]
    assert found["yearly_repaired_minor"] < found["yearly_new_minor"]
    assert [rule["id"] for rule in found["rules"]] == ["years_left", "half", "used_price"]
    text = run("worth", "--age", 9, "--price", 249.5, "--holds", 0.9)[1]
    assert "The repair pays" in text
    assert "Half of a new one" in text
    assert "What a used one costs" not in text


def test_the_verdict_turns_at_the_limit(ask):
    limit = ask("worth", "--age", 12, "--price", 1)[1]["rules"][0]["limit_minor"]
    below, above = (
        ask("worth", "--age", 12, "--price", f"{minor / 100:.2f}")[1]
        for minor in (limit - 1, limit + 1)
    )
    assert (below["pays"], above["pays"]) == (True, False)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--age", -3, "--price", 100), "Give a number from 0 to 70"),
        (("--age", 3, "--price", "ten"), "ten is not a number"),
        (("--age", 3, "--price", -5), "Give an amount of 0 or more"),
        (("--age", 3, "--price", 5, "--holds", 1.5), "1.5"),
    ],
)
def test_worth_of_nonsense(run, words, said):
    code, text = run("worth", *words)
    assert code == 2
    assert said in text


def test_lives_of_a_table(ask, run, tmp_path):
    file = tmp_path / "lives.csv"
    file.write_text(
        "years;failed;entered\n3,5;yes;0\n9;no;2\n\n12;yes;1\n14;Yes;6\n", encoding="utf-8"
    )
    code, found = ask("lives", file)
    assert (code, found["machines"], found["failures"]) == (0, 4, 3)
    assert 8 < found["life"]["scale_years"] < 16
    text = " ".join(run("lives", file)[1].split())
    assert "4 machines, 3 of them failed." in text
    assert "set life_shape to" in text


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "no column years"),
        ("years,failed\n", "no line below the header"),
        ("years,failed\n3,yes\nx,no\n4,perhaps\n5,yes\n", "line 3: years is 'x'"),
        ("years,failed\n3,yes\nx,no\n4,perhaps\n5,yes\n", "line 4: failed is 'perhaps'"),
        ("years,entered\n3,5\n", "end after it began"),
        ("years\n3\n4\n", "Wait for at least 3"),
        ("years\n" + "x\n" * 50, "and 30 more"),
    ],
)
def test_tables_with_mistakes(run, tmp_path, table, said):
    file = tmp_path / "lives.csv"
    file.write_text(table, encoding="utf-8")
    code, text = run("lives", file)
    assert code == 2
    assert said in text


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (("--age", "1e300", "--price", 50), "age"),
        (("--age", 10000, "--price", 50), "age"),
        (("--age", "70.5", "--price", 50), "age"),
        (("--age=-1", "--price", 50), "age"),
        (("--age", "nan", "--price", 50), "age"),
        (("--age", 5, "--price", 50, "--used=-50"), "used"),
        (("--age", 5, "--price", 50, "--used", "1e9"), "used"),
        (("--age", 5, "--price", "1" * 26), "price"),
        (("--age", 5, "--price=-5"), "price"),
        (("--age", 5, "--price", "inf"), "price"),
        (("--age", 5, "--price", ""), "price"),
        (("--age", 5, "--price", 50, "--holds", "1e-300"), "holds"),
        (("--age", 5, "--price", 50, "--holds", 0), "holds"),
        (("--age", 5, "--price", 50, "--holds", 1.01), "holds"),
        (("--age", 5, "--price", 50, "--holds", "nan"), "holds"),
    ],
)
def test_what_no_machine_and_no_repair_can_be_is_refused(ask, words, field):
    code, told = ask("worth", *words)
    assert code == 2
    assert told["field"] == field
    assert told["remedy"]


def test_lives_are_read_from_a_spreadsheet_and_refused_as_json(ask, tmp_path):
    table = tmp_path / "lives.csv"
    table.write_bytes("years;failed\n5,5;yes\n6;yes\n9;yes\n".encode("utf-16"))
    assert ask("lives", table)[1]["failures"] == 3
    table.write_text("years\n5\n5.0000001\n5.0000002\n")
    code, told = ask("lives", table)
    assert (code, told["field"]) == (2, "years")
    assert told["remedy"]
