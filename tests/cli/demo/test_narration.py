"""The demo as it is told in the terminal: what came in, what each entry moved, how it ended."""

import pytest

from counterpoise.cli.demo import narration
from counterpoise.cli.demo.story import Obvious, Offer
from counterpoise.report.views.job import job_view
from counterpoise.report.views.quote import quote_paper
from counterpoise.workshop.jobs.entries import Closed, Decision, Finding, Note


@pytest.fixture
def views(workshop, number):
    """The job as it came in, after a finding, after a remark."""
    seen = [job_view(workshop, number)]
    for body in (Finding("new_place", "no", note="It stood here before."), Note("Swept below.")):
        workshop.jobs.record(number, body)
        seen.append(job_view(workshop, number))
    return seen


def test_a_machine_that_comes_in_is_named_in_short_or_with_its_whole_page(views, capsys):
    narration.print_entry([], views[0], whole=False)
    short = capsys.readouterr().out
    assert views[0].title in short
    assert "NOW" not in short
    narration.print_entry([], views[0], whole=True)
    assert "NOW" in capsys.readouterr().out


def test_a_finding_says_what_it_moved_and_what_comes_next(views, capsys):
    narration.print_entry(views[:1], views[1], whole=False)
    text = capsys.readouterr().out
    assert "It stood here before." in text
    assert f"Next: {views[1].assessment.next.title}" in text
    assert any(word in text for word in ("more likely", "less likely", "the same"))


def test_a_remark_moves_nothing_and_so_says_nothing_of_it(views, capsys):
    narration.print_entry(views[:2], views[2], whole=False)
    text = capsys.readouterr().out
    assert "Swept below." in text
    assert "Next:" not in text


@pytest.mark.parametrize("accepted", [True, False])
def test_a_quote_that_will_be_declined_says_why_the_workshop_says_no(views, accepted, capsys):
    paper = quote_paper(views[0], ("replace_dampers",))
    narration.print_offer(
        paper, Offer(12000, 15000, 9000, 0.7, 3000, "Replace with a new one", accepted)
    )
    text = capsys.readouterr().out
    assert f"The quote: {paper.price}" in text
    assert ("We say no." in text) is not accepted


def test_the_end_tells_what_the_obvious_would_have_cost(workshop, number, views, capsys):
    workshop.jobs.record(number, Decision("hand_back"))
    workshop.jobs.record(number, Closed("hand_back", received_minor=3000))
    obvious = Obvious("Renew the dampers", 2, 9000, -1000, "Hand back unrepaired", 500)
    narration.print_end([*views, job_view(workshop, number)], obvious)
    text = " ".join(capsys.readouterr().out.split())
    assert "The obvious: Renew the dampers after entry 2 it looked worth 90 EUR" in text
    assert "15 EUR better than the obvious" in text
    assert "Closed: Hand back unrepaired, brought in 30.00 EUR" in text
