import pytest
from tests.spin.shared import recording_file
from tests.web.job.test_recording import WITH_SPIN
from tests.web.workbench import ForeseeableWorkshop

FILES = [recording_file(name) for name in ("r002", "r003")]


@pytest.fixture
def workshop(workshop):
    return ForeseeableWorkshop(workshop.store, {"bench": WITH_SPIN})


def test_a_recording_and_its_proof_in_the_terminal(ask, run, workshop, number):
    code, told = ask("job", "recording", number, FILES[0], "--look")
    assert (code, len(told["groups"]), len(workshop.jobs.get(number).entries)) == (0, 9, 1)
    code, text = run("job", "recording", number, FILES[0])
    assert code == 0
    assert "Saved as entry 2" in text
    assert (
        "movement at full speed" in run("job", "recording", number, FILES[1], "--role", "after")[1]
    )
    assert workshop.jobs.get(number).entries[-1].body.recording


def test_a_file_that_is_no_recording(run, number, tmp_path):
    (tmp_path / "a.csv").write_text("nothing")
    assert run("job", "recording", number, tmp_path / "a.csv")[0] == 2
