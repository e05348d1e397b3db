import io

import pytest
from click.testing import CliRunner
from PIL import Image

from counterpoise.cli import main
from counterpoise.workshop.jobs.entries import Decision, Finding, Note


def test_a_job_from_intake_to_close(ask, workshop):
    code, taken = ask(
        "job",
        "new",
        "--family",
        "bench",
        "--complaint",
        "shakes",
        "--age",
        6,
        "--answer",
        "new_place=no",
    )
    assert (code, taken["job"], taken["entry"]) == (0, 1, 2)
    for words in (
        ("record", 1, "drum_by_hand", "with_tub", "--minutes", 2, "--note", "no knock"),
        ("record", 1, "play", "--reading", 0.2),
        ("record", 1, "look_springs", "could_not_tell"),
        ("decide", 1, "repair_hand_back", "--agreed", "120", "--why", "agreed by telephone"),
        ("repair", 1, "replace_dampers", "--minutes", 40),
        ("proof", 1, "--passed"),
        ("close", 1, "repair_hand_back", "--fault", "damper_worn:gone", "--received", "120.50"),
    ):
        assert ask("job", *words)[0] == 0
    job = workshop.jobs.get(1)
    assert job.closed.received_minor == 12050
    assert job.decision == Decision("repair_hand_back", 12000, "agreed by telephone")
    assert job.entries[3].body == Finding("play", "none", reading=0.2, reading_sd=0.3)
    assert ask("job", "next", 1)[1]["assessment"]["next"] is None


def test_a_job_without_a_title_is_called_after_its_complaints(ask, workshop):
    ask("job", "new", "--family", "bench", "--complaint", "shakes")
    assert workshop.jobs.get(1).intake.title == "Front loader of the tests: shakes hard in the spin"


def test_cautions_stand_before_the_steps_they_are_about(run, number):
    text = run("job", "next", number, "--pick", "check:look_springs")[1]
    at = [
        text.index(part)
        for part in ("NOW", "sheet edges cut", "Two screws", "Look at both springs", "WHY", "WORTH")
    ]
    assert at == sorted(at)


def test_the_terminal_says_when_the_runner_up_would_be_better(run, number):
    text = " ".join(run("job", "next", number)[1].split())
    assert (
        '"Look at the springs" would be the better step if "Dampers worn" were likelier than 46 % (now 31 %)'
        in text
    )


def test_a_careful_step_can_be_asked_for_once_or_set_for_good(run, ask, number):
    assert "Careful: it holds up." not in run("job", "next", number)[1]
    assert "Careful: it holds up." in run("job", "next", number, "--careful")[1]
    assert ask("job", "next", number, "--careful")[1]["assessment"]["careful"]["cost_minor"] == 40
    assert ask("settings", "set", "careful=yes")[0] == 0
    assert "Careful: it holds up." in run("job", "next", number)[1]


def test_markup_in_a_text_is_shown_as_it_is(run, ask):
    ask(
        "job",
        "new",
        "--family",
        "bench",
        "--title",
        "[red]loud[/red] \x1b[31m",
        "--complaint",
        "shakes",
    )
    text = run("job", "list")[1]
    assert "[red]loud[/red]" in text
    assert "\x1b" not in text


def test_the_list_leaves_closed_jobs_out_until_asked(ask, number):
    ask("job", "close", number, "scrap")
    assert ask("job", "list")[1] == []
    assert [line["number"] for line in ask("job", "list", "--all")[1]] == [number]


def test_an_entry_can_be_taken_back(ask, run, number, workshop):
    ask("job", "record", number, "new_place", "yes")
    assert ask("job", "retract", number, 2, "--why", "another machine")[0] == 0
    assert [entry.number for entry in workshop.jobs.get(number).standing] == [1]
    assert "taken back by entry 3" in run("job", "show", number)[1]


def test_photos_are_kept_with_a_note(ask, number, workshop, tmp_path):
    file = tmp_path / "foot.png"
    Image.new("RGB", (40, 30), "grey").save(file)
    assert ask("job", "photo", number, file, "--text", "front left foot")[0] == 0
    note = workshop.jobs.get(number).entries[-1].body
    assert isinstance(note, Note)
    assert Image.open(io.BytesIO(workshop.photos.get(note.photos[0]))).size == (40, 30)


def test_the_sheet_is_written_as_pdf_and_html(ask, number, tmp_path):
    pdf, html = tmp_path / "a.pdf", tmp_path / "a.html"
    code, sheet = ask("job", "sheet", number, "--pdf", pdf, "--html", html)
    assert (code, sheet["number"]) == (0, number)
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "Veltro 6" in html.read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (("record", 1, "no_such_check", "yes"), "check"),
        (("record", 1, "new_place", "perhaps"), "outcome"),
        (("record", 1, "new_place"), "outcome"),
        (("record", 1, "play", "--reading", 900), "reading"),
        (("record", 1, "new_place", "no", "--minutes", -1), "minutes"),
        (("repair", 1, "pray"), "repair"),
        (("decide", 1, "repair_hand_back", "--agreed", "-5"), "agreed"),
        (("decide", 1, "repair_hand_back", "--agreed", "a lot"), "agreed"),
        (("close", 1, "burn"), "ending"),
        (("note", 1, " "), "text"),
        (("retract", 1, 1), "entry"),
    ],
)
def test_wrong_input_names_the_field_and_changes_nothing(ask, number, workshop, words, field):
    code, problem = ask("job", *words)
    assert (code, problem["field"]) == (2, field)
    assert problem["what"]
    assert len(workshop.jobs.get(number).entries) == 1


def test_a_wrong_answer_at_intake_opens_no_job(ask, workshop):
    code, problem = ask(
        "job", "new", "--family", "bench", "--complaint", "shakes", "--answer", "new_place=maybe"
    )
    assert (code, problem["field"]) == (2, "outcome")
    assert workshop.jobs.lines() == []


def test_an_error_in_words_is_one_line(run, number):
    code, text = run("job", "record", number, "plai", "none")
    assert code == 2
    assert len(text.strip().splitlines()) == 1
    assert "Did you mean play?" in text


def test_an_unknown_job_is_said(ask):
    code, problem = ask("job", "next", 77)
    assert code == 2
    assert "77" in problem["what"]


def test_a_stale_entry_is_refused(ask, number, workshop):
    ask("job", "record", number, "new_place", "no")
    assert ask("job", "record", number, "play", "some", "--expected-last", 1)[0] == 2
    assert len(workshop.jobs.get(number).entries) == 2


def test_settings_are_shown_and_set(ask, run, workshop):
    assert (
        ask("settings", "set", "labour_rate_minor=52.50", "careful=yes", "tools=pliers, gauge")[0]
        == 0
    )
    now = workshop.settings()
    assert (now.labour_rate_minor, now.careful, now.tools) == (5250, True, ("pliers", "gauge"))
    assert "labour_rate_minor = 52.50" in run("settings", "show")[1]


@pytest.mark.parametrize(
    "change",
    ["labour_rate_minor=-4", "no_such=1", "careful=perhaps", "tax_percent", "life_shape=nan"],
)
def test_a_wrong_setting_changes_nothing(ask, workshop, change):
    before = workshop.settings()
    assert ask("settings", "set", "people=2", change)[0] == 2
    assert workshop.settings() == before


def test_a_store_that_cannot_be_opened_is_said_in_words(tmp_path):
    broken = tmp_path / "broken.db"
    broken.write_bytes(b"no database" * 100)
    result = CliRunner().invoke(main, ["job", "list", "--store", str(broken)])
    assert result.exit_code == 2
    assert "Traceback" not in result.output
