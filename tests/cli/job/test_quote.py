def test_a_quote_on_screen_and_on_paper(run, number, tmp_path):
    paper = tmp_path / "quote.pdf"
    code, text = run("job", "quote", number, "--pdf", paper)
    assert code == 0
    for said in ("What is wrong", "Most likely: dampers worn", "50.88 EUR", "Our guarantee"):
        assert said in text
    assert paper.read_bytes().startswith(b"%PDF")


def test_the_answer_is_kept(ask, workshop, number):
    assert ask("job", "quote", number, "--answer", "yes", "--agreed-by", "Mrs Ode")[0] == 0
    assert workshop.jobs.get(number).decision.agreed_by == "Mrs Ode"
    assert workshop.jobs.get(number).decision.agreed_minor == 5088
    assert ask("job", "quote", number)[1]["answer"].startswith("Quote accepted by Mrs Ode")


def test_an_answer_needs_a_name_and_a_name_an_answer(run, workshop, number):
    assert run("job", "quote", number, "--answer", "replace")[0] == 2
    assert run("job", "quote", number, "--agreed-by", "Mrs Ode")[0] == 2
    assert workshop.jobs.get(number).decision is None
