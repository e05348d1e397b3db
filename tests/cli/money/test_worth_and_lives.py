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
        (("--age", -3, "--price", 100), "Give 0 or more years"),
        (("--age", 3, "--price", "ten"), "no amount in EUR"),
        (("--age", 3, "--price", -5), "price of 0 or more"),
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
