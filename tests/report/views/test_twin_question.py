"""What was typed of a machine, read as a question to the model in motion."""

from dataclasses import replace

import pytest

from counterpoise.errors import InputError
from counterpoise.report.views.machine_figures import OwnMachine, own_figures, own_machine
from counterpoise.report.views.twin_question import (
    KINDS,
    LIMITS,
    MOST_FAULTS,
    model_kind_of,
    read_question,
)
from counterpoise.workshop.jobs.entries import Entry, Figures, Intake, Job

KIND = "front_loader"


def job_of(*bodies, features=()):
    intake = Intake(KIND, "customer", "Quarrow", ("shakes",), 5.0, dict(features))
    return Job(
        3,
        tuple(
            Entry(n, "2026-03-01T09:00:00Z", "ada", b) for n, b in enumerate([intake, *bodies], 1)
        ),
    )


def test_nothing_typed_is_the_usual_machine():
    question = read_question(KIND, {}, ())
    assert (question.family, question.values, question.faults) == (KIND, (), ())
    assert question.top_rpm is None


def test_what_is_typed_counts_before_what_the_job_holds():
    own = OwnMachine({"dampers": 3.0, "drum_kg": 14.0}, {"dampers": "counted"}, top_rpm=1000.0)
    question = read_question(KIND, {"dampers": "4", "top_rpm": ""}, (), own)
    assert dict(question.values) == {"dampers": 4.0, "drum_kg": 14.0}
    assert question.top_rpm == 1000.0
    assert read_question(KIND, {"top_rpm": "1400"}, (), own).top_rpm == 1400.0


def test_the_same_fault_twice_is_one():
    question = read_question(KIND, {}, ("damper_weak", "damper_weak"))
    assert question.faults == ("damper_weak",)


@pytest.mark.parametrize(
    ("texts", "field"),
    [
        ({"unheard_of": "1"}, "unheard_of"),
        ({"dampers": "2.5"}, "dampers"),
        ({"dampers": "many"}, "dampers"),
        ({"load": "21"}, "load"),
        ({"depth": "-0.1"}, "depth"),
        ({"point_x": "0.5"}, "point_x"),
    ],
)
def test_what_no_machine_has_is_refused_by_its_field(texts, field):
    with pytest.raises(InputError) as refused:
        read_question(KIND, texts, ())
    assert refused.value.field == field
    assert refused.value.remedy


def test_more_faults_than_the_figures_can_tell_apart_are_refused():
    with pytest.raises(InputError, match="too many"):
        read_question(KIND, {}, ("a", "b", "c", "d"))
    assert MOST_FAULTS == 3
    assert all(low < high for low, high in LIMITS.values())


def test_every_kind_has_words():
    assert dict(KINDS) == {"front_loader": "Front loader", "top_loader": "Top loader"}


def test_a_family_without_a_model_says_so(front_loader):
    job = job_of()
    assert model_kind_of(job, front_loader) == KIND
    with pytest.raises(InputError, match="no model in motion"):
        model_kind_of(job, replace(front_loader, id="dryer", title="Dryer"))


def test_the_jobs_own_figures_come_in_si_with_how_they_are_known(front_loader):
    job = job_of(Figures({"spin_rpm": 800.0, "dampers": 3.0}, "counted"))
    own = own_machine(job, front_loader)
    assert own.top_rpm == 800.0
    assert own.held["dampers"] == 3.0
    assert own.words["dampers"] == "from the job: seen and counted (entry 2)"


def test_the_weight_of_the_whole_machine_is_shared_out(front_loader):
    job = job_of(Figures({"machine_kg": 72.0}, "plate"))
    own = own_machine(job, front_loader)
    shared = own.values(KIND, {})
    assert own.total_kg == 72.0
    assert "shared out from the whole machine's 72 kg" in own.words["cabinet_kg"]
    assert shared["oscillating_kg"] > 0
    assert shared["cabinet_kg"] > 0


def test_what_a_job_could_hold_is_listed_with_what_it_holds(front_loader):
    job = job_of(Figures({"dampers": 3.0}, "counted"))
    lines = {line.id: line for line in own_figures(job, front_loader).figures}
    assert (lines["dampers"].value, lines["dampers"].how) == (3.0, "seen and counted")
    assert lines["machine_kg"].value is None
    assert lines["machine_kg"].how == ""
