"""What each command of a job answers: JSON with its keys, and the same figures in the terminal."""

import json

import pytest
from PIL import Image
from tests.web.workbench import STOCKED, ForeseeableWorkshop

from counterpoise.report.words.numbers import money

RECORDED = {"job", "entry", "next", "why"}


@pytest.fixture
def workshop(workshop):
    return ForeseeableWorkshop(workshop.store, {"bench": STOCKED})


def flat(text):
    """A text of the terminal without its line breaks and columns."""
    return " ".join(text.split())


@pytest.mark.parametrize(
    "words",
    [
        ("record", 1, "new_place", "no", "--minutes", 2, "--note", "asked at the door"),
        ("record", 1, "play", "--reading", 0.2, "--reading-sd", 0.1),
        ("record", 1, "look_springs", "cannot_reach"),
        ("record", 1, "look_springs", "could_not_tell"),
        ("repair", 1, "replace_dampers", "--minutes", 35.5),
        ("proof", 1, "--passed"),
        ("proof", 1, "--failed", "--minutes", 12),
        ("decide", 1, "part_out", "--why", "no owner"),
        ("close", 1, "scrap", "--received", "-10"),
        ("note", 1, "hello", "--parts-due", "2026-03-09"),
        ("quote", 1, "--answer", "hand_back", "--agreed-by", "Mrs Ode"),
    ],
)
def test_an_entry_is_answered_with_its_number_and_what_comes_next(ask, run, number, words):
    code, answer = ask("job", *words)
    assert code == 0
    assert set(answer) == RECORDED
    assert (answer["job"], answer["entry"]) == (number, 2)
    following = ask("job", "next", number)[1]
    assert following["last"] == 2
    assert following["assessment"]["next"] == answer["next"]
    assert following["assessment"]["why"] == answer["why"]


def test_the_terminal_names_the_entry_and_shows_the_next_step(run, ask, number):
    code, text = run("job", "record", number, "new_place", "no")
    assert code == 0
    assert text.startswith("Saved as entry 2 of job 1.")
    assert ask("job", "next", number)[1]["assessment"]["next"]["title"] in text


def test_who_puts_it_down_is_kept(ask, workshop, number, monkeypatch):
    monkeypatch.setenv("USER", "emil")
    ask("job", "note", number, "hello")
    ask("job", "note", number, "hello", "--by", "ada")
    monkeypatch.delenv("USER")
    ask("job", "note", number, "hello")
    assert [entry.by for entry in workshop.jobs.get(number).entries[1:]] == ["emil", "ada", "bench"]


def test_everything_said_at_intake_is_kept(ask, workshop):
    code, answer = ask(
        *(
            "job",
            "new",
            "--family",
            "bench",
            "--owner",
            "workshop",
            "--title",
            "By the bin",
            "--complaint",
            "shakes",
        ),
        *("--complaint", "shakes", "--complaint", "stops", "--age", 8.5, "--feature", "drive=belt"),
        *("--maker", "Veltro", "--model", "6", "--serial", "V-77", "--contact", "next door"),
        *("--story", "left out in the rain", "--promised", "2026-03-05", "--away"),
        *("--paid", "12,50", "--used-parts", "--nobody-to-ask", "--by", "ada"),
    )
    assert (code, set(answer)) == (0, RECORDED)
    intake = workshop.jobs.get(answer["job"]).intake
    assert (intake.owner, intake.title, intake.complaints) == (
        "workshop", "By the bin", ("shakes", "stops"),
    )  # fmt: skip
    assert (intake.age_years, dict(intake.features)) == (8.5, {"drive": "belt"})
    assert (intake.maker, intake.model, intake.serial) == ("Veltro", "6", "V-77")
    assert (intake.contact, intake.story) == ("next door", "left out in the rain")
    assert (intake.promised, intake.away, intake.paid_minor, intake.used_parts) == (
        "2026-03-05", True, 1250, True,
    )  # fmt: skip
    assert intake.nobody_to_ask


def test_answers_of_the_owner_are_entries_of_their_own(ask, workshop):
    words = ("--complaint", "shakes", "--answer", "new_place=yes")
    answer = ask("job", "new", "--family", "bench", *words)[1]
    assert answer["entry"] == 2
    assert workshop.jobs.get(answer["job"]).entries[1].body.outcome == "yes"


def test_the_list_says_the_same_in_both_ways(ask, run, number):
    ask("job", "new", "--family", "bench", "--title", "The second", "--complaint", "shakes")
    lines = ask("job", "list")[1]
    assert [line["number"] for line in lines] == [2, 1]
    assert {key for line in lines for key in line} == {
        "number",
        "title",
        "state",
        "open",
        "trouble",
        "group",
        "next",
        "minutes",
        "doubt",
        "promised",
        "late",
        "owner",
    }
    text = flat(run("job", "list")[1])
    for line in lines:
        assert f"No. {line['number']} {line['title']} ({line['state']})" in text


def test_an_empty_list_is_said(ask, run):
    assert ask("job", "list") == (0, [])
    assert run("job", "list") == (0, "No machine is waiting.\n")


def test_the_next_step_is_the_same_in_both_ways(ask, run, number):
    answer = ask("job", "next", number)[1]
    step = answer["assessment"]["next"]
    text = flat(run("job", "next", number)[1])
    for said in (answer["title"], step["title"], step["question"], *step["steps"]):
        assert said in text
    for reply in step["answers"]:
        assert f"{reply['outcome']} {reply['label']}" in text
    for suspect in answer["assessment"]["suspects"][:2]:
        assert suspect["title"] in text
        assert f"{100 * suspect['probability']:.0f} %" in text
    for option in answer["assessment"]["options"]:
        assert option["title"] in text or not option["available"]


def test_a_step_of_choice_is_shown_and_nothing_is_put_down(ask, workshop, number):
    ask("job", "next", number, "--pick", "repair:replace_dampers")
    assert len(workshop.jobs.get(number).entries) == 1


def test_all_steps_are_listed_alike(ask, run, number):
    ask("job", "record", number, "new_place", "no")
    groups = ask("job", "steps", number)[1]
    text = flat(run("job", "steps", number)[1])
    lines = [line for group in groups for line in group["lines"]]
    assert {line["id"] for line in lines if line["kind"] == "check"} == set(STOCKED.checks)
    assert {line["id"] for line in lines if line["kind"] == "repair"} == set(STOCKED.repairs)
    for line in lines:
        assert f"{line['kind']}:{line['id']} {line['title']}, {line['minutes']} min" in text
    done = [line for line in lines if line["done"]]
    assert [line["id"] for line in done] == ["new_place"]
    assert f"already: {done[0]['done']}" in text


def test_all_entries_are_shown_alike(ask, run, number):
    ask("job", "note", number, "the cellar is damp", "--by", "ada")
    answer = ask("job", "show", number)[1]
    assert len(answer["entries"]) == answer["last"] == 2
    assert "the cellar is damp" in json.dumps(answer["entries"])
    text = flat(run("job", "show", number)[1])
    assert f"No. {number} {answer['title']}" in text
    assert "the cellar is damp" in text


@pytest.mark.parametrize("words", [(), ("--discount", "10%"), ("--used",), ("--charged",)])
def test_an_estimate_adds_up_and_is_said_alike(ask, run, number, words):
    answer = ask("job", "estimate", number, *words)[1]
    total = answer["estimate"]
    assert sum(line["net_minor"] for line in total["lines"]) == total["net_minor"]
    assert total["net_minor"] + total["tax_minor"] == total["gross_minor"]
    assert total["low_minor"] <= total["expected_minor"] <= total["ceiling_minor"]
    text = flat(run("job", "estimate", number, *words)[1])
    for line in total["lines"]:
        assert line["title"] in text
        assert money(line["net_minor"], "EUR") in text
    for minor in (total["tax_minor"], total["payable_minor"], total["ceiling_minor"]):
        assert money(minor, "EUR") in text


def test_a_used_part_and_a_discount_make_it_cheaper(ask, number):
    dear = ask("job", "estimate", number)[1]["estimate"]["payable_minor"]
    for words in (("--part", "damper_set=used"), ("--discount", "5"), ("--discount", "labour:10%")):
        assert ask("job", "estimate", number, *words)[1]["estimate"]["payable_minor"] < dear
    assert (
        ask("job", "estimate", number, "--part", "damper_set=new")[1]["estimate"]["payable_minor"]
        == dear
    )


def test_a_quote_asks_what_the_estimate_reckons(ask, run, number):
    paper = ask("job", "quote", number)[1]
    total = ask("job", "estimate", number)[1]["estimate"]
    assert paper["price"] == money(total["payable_minor"], "EUR")
    assert paper["ceiling"] == money(total["ceiling_minor"], "EUR")
    text = flat(run("job", "quote", number)[1])
    assert f"{paper['price']}, at most {paper['ceiling']} without asking." in text
    for passage in paper["passages"]:
        assert passage["title"] in text
        for sentence in passage["sentences"]:
            assert sentence in text


@pytest.mark.parametrize("answer", ["yes", "hand_back", "replace"])
def test_an_answer_to_a_quote_is_a_decision(ask, workshop, number, answer):
    price = ask("job", "quote", number)[1]["price_minor"]
    ask("job", "quote", number, "--answer", answer, "--agreed-by", "Mrs Ode", "--by", "ada")
    decision = workshop.jobs.get(number).decision
    assert decision.option == {"yes": "repair_hand_back"}.get(answer, answer)
    assert decision.agreed_by == "Mrs Ode"
    # who says no owes for finding the fault: 30.00 and a tax of 20 %
    assert decision.agreed_minor == (price if answer == "yes" else 3600)


def test_the_parts_worth_keeping_are_said_alike(ask, run, number):
    answer = ask("job", "parts", number)[1]
    text = flat(run("job", "parts", number)[1])
    assert [part["id"] for part in answer["parts"]] == ["drum", "dampers"]
    for part in answer["parts"]:
        assert f"{'keep' if part['keep'] else 'leave'} {part['title']} good" in text
        assert f"{part['minutes']} min" in text
    for caution in answer["cautions"]:
        assert text.index(caution) < text.index(answer["parts"][0]["title"])


def test_a_sheet_is_written_where_asked_and_only_there(ask, run, number, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = set(tmp_path.iterdir())
    assert ask("job", "sheet", number)[0] == 0
    assert set(tmp_path.iterdir()) == before
    assert run("job", "sheet", number) == (0, "Wrote job-1.pdf\n")
    assert {file.name for file in set(tmp_path.iterdir()) - before} == {"job-1.pdf"}
    sheet = ask("job", "sheet", number, "--html", "sheet.html")[1]
    html = (tmp_path / "sheet.html").read_text("utf-8")
    for field in (sheet["title"], *sheet["heard"], *(row["text"] for row in sheet["suspects"])):
        assert field in html


def test_a_machine_that_came_back_is_open_again(ask, run, workshop, number):
    ask("job", "close", number, "repair_hand_back", "--received", "96")
    assert "closed" in ask("job", "list", "--all")[1][0]["state"]
    code, answer = ask("job", "came-back", number, "--why", "it walks again", "--by", "ada")
    assert (code, answer["entry"]) == (0, 3)
    assert [line["open"] for line in ask("job", "list")[1]] == [True]
    assert "it walks again" in run("job", "show", number)[1]
    assert ask("job", "came-back", number)[0] == 2


def test_taking_the_closing_entry_back_opens_the_job(ask, workshop, number):
    ask("job", "close", number, "scrap")
    assert workshop.jobs.get(number).closed is not None
    assert set(ask("job", "retract", number, 2, "--why", "not yet")[1]) == RECORDED
    assert workshop.jobs.get(number).closed is None


def test_a_photo_of_a_foot_goes_with_any_work(ask, workshop, number, tmp_path):
    file = tmp_path / "foot.png"
    Image.new("RGB", (8, 6), "grey").save(file)
    for words in (
        ("record", number, "new_place", "no", "--photo", file),
        ("repair", number, "replace_dampers", "--photo", file),
        ("note", number, "the foot", "--photo", file),
        ("photo", number, file, "--text", "the foot again"),
    ):
        assert ask("job", *words)[0] == 0
    kept = [entry.body.photos for entry in workshop.jobs.get(number).entries[1:]]
    assert len(kept) == 4
    assert len(set(kept)) == 1  # the same picture is kept once


def test_no_figure_of_the_machine_is_known_at_first(ask, run, number):
    answer = ask("job", "machine", number)[1]
    assert answer == {"number": 1, "last": 1, "figures": []}
    assert "No figure of this machine is known." in run("job", "machine", number)[1]
