def test_the_terminal_says_what_the_page_says(run, ask, number):
    code, found = ask("job", "estimate", number)
    assert (code, found["estimate"]["payable_minor"]) == (0, 5088)
    text = run("job", "estimate", number, "--repair", "replace_dampers")[1]
    for said in (
        "Replace the set of dampers",
        "Open and close: Top cover",
        "50.88 EUR",
        "Promise no more than",
    ):
        assert said in text


def test_a_repair_that_is_not_known_is_said(run, number):
    code, text = run("job", "estimate", number, "--repair", "replace_damper")
    assert code == 2
    assert "replace_dampers" in text
