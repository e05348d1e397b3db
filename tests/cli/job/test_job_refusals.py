"""Each command of a job given what cannot be: said in one line with a remedy, nothing stored."""

import pytest
from PIL import Image
from tests.cli.refusals import (
    invoke,
    refused_as_json,
    refused_by_the_command_line,
    refused_by_the_program,
)
from tests.web.workbench import STOCKED, ForeseeableWorkshop


@pytest.fixture
def workshop(workshop):
    return ForeseeableWorkshop(workshop.store, {"bench": STOCKED})


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A picture and a text."""
    folder = tmp_path_factory.mktemp("files")
    Image.new("RGB", (4, 3), "grey").save(folder / "foot.png")
    (folder / "story.txt").write_text("it shakes", encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    "line",
    [
        "job next 7",
        "job show 7",
        "job steps 7",
        "job machine 7",
        "job machine 7 --set dampers=3",
        "job estimate 7",
        "job estimate 7 --reserve",
        "job quote 7 --pdf @/quote.pdf",
        "job quote 7 --answer yes --agreed-by Ode",
        "job parts 7 --labels @/labels.pdf",
        "job sheet 7",
        "job sheet 7 --pdf @/sheet.pdf --html @/sheet.html",
        "job record 7 play none",
        "job repair 7 replace_dampers",
        "job proof 7 --passed",
        "job decide 7 scrap",
        "job close 7 scrap",
        "job retract 7 1",
        "job note 7 hello",
        "job note 7 hello --photo @/foot.png",
        "job photo 7 @/foot.png",
        "job came-back 7",
        "job fit 7",
        "job recording 7 @/story.txt",
    ],
)
def test_a_job_that_is_not_there(untouched, files, line):
    assert "There is no job 7" in refused_by_the_program(untouched, line, files)
    assert refused_as_json(untouched, line, files)["what"] == "There is no job 7"


# command line, field, what is said of it, what helps
WRONG = [
    ("record 1 plai none", "check", "'plai'", "Did you mean play?"),
    ("record 1 new_place perhaps", "outcome", "'perhaps'", "Known are no, yes"),
    ("record 1 new_place", "outcome", "is missing", "--reading"),
    ("record 1 play --reading nan", "reading", "nan mm", "between 0 and 20"),
    ("record 1 play --reading=-0.1", "reading", "-0.1 mm", "between 0 and 20"),
    ("record 1 play --reading 1 --reading-sd=-1", "reading_sd", "-1 mm", "above zero"),
    ("record 1 play none --minutes inf", "minutes", "inf cannot be", "from 0 to 1440"),
    ("record 1 play none --minutes 1441", "minutes", "1441 cannot be", "from 0 to 1440"),
    ("record 1 play none --photo @/story.txt", "photo", "cannot be read", "JPEG, PNG or WebP"),
    ("photo 1 @/story.txt", "photo", "cannot be read", "JPEG, PNG or WebP"),
    ("repair 1 replace_damper", "repair", "'replace_damper'", "Did you mean replace_dampers?"),
    ("repair 1 replace_dampers --from-shelf 1:x", "from_shelf", "1:x", "like 12 or 12:2"),
    ("repair 1 replace_dampers --from-shelf ''", "from_shelf", "is no lot", "like 12 or 12:2"),
    ("repair 1 replace_dampers --minutes nan", "minutes", "nan cannot be", "from 0 to 1440"),
    ("proof 1 --passed --minutes=-3", "minutes", "-3 cannot be", "from 0 to 1440"),
    ("decide 1 burn", "option", "'burn'", "Known are repair_resell"),
    ("decide 1 scrap --agreed=-5", "agreed", "-5 is below zero", "0 or more"),
    ("decide 1 scrap --agreed 12,5,0", "agreed", "12,5,0", "Write it in digits"),
    ("close 1 burn", "ending", "'burn'", "Known are"),
    ("close 1 scrap --fault rust", "faults", "'rust'", "Known are damper_worn"),
    ("close 1 scrap --received much", "received", "much is not a number", "like 12.5"),
    ("note 1 hello --parts-due tomorrow", "parts_due", "'tomorrow' is no day", "like 2026-03-05"),
    ("note 1 hello --parts-due 2026-02-30", "parts_due", "'2026-02-30'", "like 2026-03-05"),
    ("came-back 1", "", "Job 1 is open", "Save what you find"),
    ("machine 1 --set dampers", "set", "is not name=value", "like machine_kg=68"),
    ("machine 1 --set dampers=", "set", "is not name=value", "like machine_kg=68"),
    ("machine 1 --set dampers=three", "dampers", "three is not a number", "in digits"),
    ("machine 1 --set nothing=3", "values.nothing", "'nothing'", "None are known"),
    ("estimate 1 --repair pray", "repair", "'pray'", "Known are replace_dampers"),
    ("estimate 1 --discount lots", "amount", "'lots' is no amount in EUR", "like 123.50 EUR"),
    ("estimate 1 --discount 200%", "discount", "200 %", "0 to 100 %"),
    ("estimate 1 --part damper_set", "part", "is not name=value", "like PART=KIND"),
    ("estimate 1 --part damper_set=old", "part", "'old' is no kind", "new, pattern or used"),
    ("estimate 1 --part engine=new", "part", "'engine'", "Known are damper_set, pump"),
    ("quote 1 --repair pray", "repair", "'pray'", "Known are replace_dampers"),
    ("quote 1 --part damper_set=old", "part", "'old' is no kind", "new, pattern or used"),
    ("quote 1 --agreed-by Ode", "answer", "is missing", "Give --answer with --agreed-by"),
    ("sheet 1 --pdf @/no/where.pdf", "pdf", "No such file or directory", "Give another file"),
    ("sheet 1 --html @/no/where.html", "html", "No such file or directory", "Give another file"),
    ("retract 1 1", "entry", "intake cannot be taken back", "record the intake again"),
    ("parts 1 --labels @/no/where.pdf", "file", "No such file or directory", "Give another file"),
]


@pytest.mark.parametrize(("line", "field", "what", "remedy"), WRONG)
def test_wrong_input_is_said_with_a_remedy(untouched, files, line, field, what, remedy):
    text = refused_by_the_program(untouched, f"job {line}", files)
    assert what in text
    assert remedy in text
    problem = refused_as_json(untouched, f"job {line}", files)
    assert problem["field"] == field
    assert what in problem["what"]
    assert remedy in problem["remedy"]


NEW = "job new --family bench --complaint shakes"


@pytest.mark.parametrize(
    ("line", "field", "remedy"),
    [
        ("job new --family bensh", "family", "Did you mean bench?"),
        (
            "job new --family bench --complaint roars",
            "complaints",
            "Known are shakes, walks, stops",
        ),
        (f"{NEW} --age=-2", "age_years", "from 0 to 70"),
        (f"{NEW} --age 71", "age_years", "from 0 to 70"),
        (f"{NEW} --age nan", "age_years", "from 0 to 70"),
        (f"{NEW} --feature drive=rope", "features.drive", "Known are direct, belt"),
        (f"{NEW} --feature drive", "feature", "like drive=belt"),
        (f"{NEW} --figure dampers=many", "dampers", "in digits"),
        (f"{NEW} --promised 2026-13-01", "promised", "like 2026-03-05"),
        (f"{NEW} --promised 5.3.2026", "promised", "like 2026-03-05"),
        (f"{NEW} --paid x", "paid", "in digits"),
        (f"{NEW} --paid=-1", "paid", "0 or more"),
        (f"{NEW} --answer new_place", "answer", "like CHECK=OUTCOME"),
        (f"{NEW} --answer new_place=perhaps", "outcome", "Known are no, yes"),
        (f"{NEW} --answer rust=yes", "check", "Known are"),
    ],
)
def test_a_machine_wrongly_described_is_not_taken_in(untouched, files, line, field, remedy):
    assert remedy in refused_by_the_program(untouched, line, files)
    problem = refused_as_json(untouched, line, files)
    assert problem["field"] == field
    assert remedy in problem["remedy"]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("job next", "Missing argument 'NUMBER'"),
        ("job next seven", "'seven' is not a valid integer"),
        ("job next 1.5", "'1.5' is not a valid integer"),
        ("job record 1", "Missing argument 'CHECK'"),
        ("job record 1 play --reading many", "'many' is not a valid float"),
        ("job record 1 play none --minutes soon", "'soon' is not a valid float"),
        ("job record 1 play none --photo @/none.png", "none.png' does not exist"),
        ("job record 1 play none --photo @", "is a directory"),
        ("job record 1 play none --expected-last x", "'x' is not a valid integer"),
        ("job repair 1", "Missing argument 'REPAIR'"),
        ("job decide 1", "Missing argument 'OPTION'"),
        ("job close 1", "Missing argument 'ENDING'"),
        ("job retract 1", "Missing argument 'ENTRY'"),
        ("job retract 1 first", "'first' is not a valid integer"),
        ("job note 1", "Missing argument 'TEXT'"),
        ("job photo 1", "Missing argument 'FILES...'"),
        ("job photo 1 @/none.png", "none.png' does not exist"),
        ("job photo 1 @", "is a directory"),
        ("job recording 1 @/none.csv", "none.csv' does not exist"),
        (
            "job recording 1 @/story.txt --role never",
            "'never' is not one of 'before', 'tied', 'after'",
        ),
        ("job recording 1 @/story.txt --top-rpm 100", "200<=x<=3000"),
        ("job fit 1 --load 15", "0<=x<=14"),
        ("job fit 1 --unbalance 0", "0.02<=x<=3"),
        ("job machine 1 --how guessed", "'guessed' is not one of 'told', 'plate'"),
        ("job quote 1 --answer maybe", "'maybe' is not one of 'yes', 'hand_back', 'replace'"),
        ("job quote 1 --pdf @", "is a directory"),
        ("job parts 1 --labels @", "is a directory"),
        ("job sheet 1 --html @", "is a directory"),
        ("job sheet 1 --pdf @", "is a directory"),
        ("job new --age old", "'old' is not a valid float"),
        ("job new --owner nobody", "'nobody' is not one of 'customer', 'workshop'"),
        ("job list --colour", "No such option '--colour'"),
        ("job list 1", "Got unexpected extra argument (1)"),
        ("job lost", "No such command 'lost'"),
    ],
)
def test_words_that_are_no_command_line(untouched, files, line, said):
    assert said in refused_by_the_command_line(untouched, line, files)


@pytest.mark.parametrize(
    "words",
    [
        "record 1 new_place no",
        "repair 1 replace_dampers",
        "proof 1 --failed",
        "decide 1 scrap",
        "close 1 scrap",
        "note 1 hello",
        "photo 1 @/foot.png",
    ],
)
def test_who_read_an_older_state_is_refused(untouched, files, words):
    line = f"job {words} --expected-last 5"
    said = "its last entry is 1, not 5. Look at the job again"
    assert said in refused_by_the_program(untouched, line, files)
    assert said in refused_as_json(untouched, line, files)["what"]


@pytest.mark.parametrize(
    "words",
    [
        "record 1 new_place no",
        "repair 1 replace_dampers",
        "proof 1 --passed",
        "decide 1 scrap",
        "close 1 scrap",
    ],
)
def test_nothing_more_is_put_down_once_a_job_is_closed(workshop, number, tmp_path, words):
    assert invoke(workshop, "job close 1 scrap", tmp_path).exit_code == 0
    text = refused_by_the_program(workshop, f"job {words}", tmp_path)
    assert "Job 1 is closed" in text
    assert "Take back its closing entry to open it again" in text


def test_an_entry_taken_back_cannot_be_taken_back_again(workshop, number, tmp_path):
    invoke(workshop, "job note 1 hello", tmp_path)
    assert invoke(workshop, "job retract 1 2", tmp_path).exit_code == 0
    assert "2" in refused_by_the_program(workshop, "job retract 1 2", tmp_path)
    assert "Its entries run from 1 to 3" in refused_by_the_program(
        workshop, "job retract 1 9", tmp_path
    )


def test_a_proof_needs_its_result(workshop, number, tmp_path):
    result = invoke(workshop, "job proof 1", tmp_path)
    assert result.exit_code == 2
    assert "passed" in result.stderr
    assert len(workshop.jobs.get(number).entries) == 1


def test_an_answer_to_a_quote_that_could_not_be_written_is_not_put_down(workshop, number, tmp_path):
    line = "job quote 1 --answer yes --agreed-by Ode --pdf @/no/where.pdf"
    assert refused_as_json(workshop, line, tmp_path)["field"] == "pdf"
    result = invoke(workshop, line, tmp_path)
    assert "where.pdf: No such file or directory. Give another file" in result.stderr
    # a price read off the screen is a price promised
    assert result.stdout == ""
    assert workshop.jobs.get(number).decision is None


def test_a_store_that_is_a_folder_is_said(tmp_path):
    result = invoke(None, "job list --store @", tmp_path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("Error: ")


@pytest.mark.parametrize("line", ["job proof 1", "job proof 1 --minutes 5"])
def test_a_proof_without_its_side_says_both(untouched, tmp_path, line):
    told = refused_as_json(untouched, line, tmp_path)
    assert told["field"] == "passed"
    assert "--passed" in told["remedy"]
    assert "--failed" in told["remedy"]


@pytest.mark.parametrize(
    ("pick", "what", "remedy"),
    [
        ("nothing", "nothing is no kind of step", "check:ID"),
        (":", "Nothing is no kind of step", "check:ID"),
        ("ending:scrap", "ending is no kind of step", "check:ID"),
        ("check:drum_by_hnd", "There is no check 'drum_by_hnd'", "Did you mean drum_by_hand?"),
        ("repair:", "There is no repair ''", "Known are"),
    ],
)
def test_a_step_that_is_not_there_is_said_with_what_is(untouched, tmp_path, pick, what, remedy):
    told = refused_as_json(untouched, f"job next 1 --pick {pick}", tmp_path)
    assert what in told["what"]
    assert remedy in told["remedy"]


@pytest.mark.parametrize("line", ["job next 7", "job show 7", "job record 7 play some", "export 7"])
def test_a_job_that_is_not_there_is_said_with_those_that_are(untouched, tmp_path, line):
    assert "The jobs are numbered from 1 to 1" in refused_by_the_program(untouched, line, tmp_path)


def test_the_terminal_says_the_answers_of_a_proof_as_the_page_does(workshop, number, tmp_path):
    from counterpoise.report.views.job import job_view
    from counterpoise.workshop.diagnosis.steps import StepBuilder

    view = job_view(workshop, number)
    text = invoke(workshop, "job next 1 --pick proof", tmp_path).stdout
    for answer in StepBuilder.of(view.situation, view.supply).proof().answers:
        assert f"--{answer.outcome}" in text
        assert answer.label in text
