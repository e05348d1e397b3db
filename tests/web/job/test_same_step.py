"""Page, terminal, sheet and JSON show one and the same step, with its panels and cautions."""

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.report.paper.html import sheet_html
from counterpoise.report.paper.sheet import build_sheet
from counterpoise.report.views.job import job_view
from counterpoise.report.words.numbers import people
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import (
    Closed,
    Decision,
    Finding,
    Intake,
    Proof,
    RepairDone,
)
from counterpoise.workshop.services.workshop import Workshop

FRONT = load_family("front_loader")
INTAKE = Intake("front_loader", "customer", "Veltro 6", ("shakes",), 6.0, {"drive": "belt"})
CHARGE = FRONT.cautions["stored_charge"].text


def mildest(check):
    return Finding(check, next(iter(FRONT.checks[check].outcomes)))


MENDED = (mildest("look_drain_trap"), mildest("look_dampers"), RepairDone("replace_dampers"))


def quickly(case):
    """Hardly any planning: the faces are judged, not the plan."""
    return assess(case, Effort(growths=0))


@pytest.fixture
def workshop(store):
    return Workshop(store, {"front_loader": FRONT}, quickly)


@pytest.fixture
def put_down(workshop):
    def recorded(*bodies):
        number = workshop.jobs.open(INTAKE).number
        for body in bodies:
            workshop.jobs.record(number, body)
        return number

    return recorded


@pytest.fixture
def came_back(workshop, put_down):
    number = put_down(*MENDED, Proof(True), Closed("repair_hand_back"))
    workshop.jobs.reopen(number, "shakes again")
    return number


def picked(client, number, kind, step):
    return client.get(f"/api/jobs/{number}/steps/{kind}/{step}").json()["picked"]


def opened_first(step):
    return [opening["access"] for opening in step["openings"]]


def test_a_machine_that_came_back_is_leaned_back_anew(client, came_back):
    step = picked(client, came_back, "repair", "reseat_damper")
    panel, repair = FRONT.access["tipped"], FRONT.repairs["reseat_damper"]
    assert opened_first(step) == ["tipped"]
    assert step["minutes"] == repair.minutes + panel.open_min + panel.close_min
    assert opened_first(picked(client, came_back, "repair", "clear_drain")) == ["drain_flap"]
    page = client.get(f"/jobs/{came_back}/steps/repair/reseat_damper").text
    assert page.index(panel.title) < page.index(panel.steps[0]) < page.index('class="answer"')


@pytest.mark.parametrize("passed", [True, False])
def test_behind_a_panel_that_a_proof_spin_shut_the_charge_is_waited_for_anew(
    client, put_down, passed
):
    number = put_down(
        mildest("look_belt"),
        RepairDone("tidy_loom"),
        Proof(passed),
    )
    step = picked(client, number, "repair", "replace_speed_sensor")
    assert opened_first(step) == ["rear_panel"]
    assert CHARGE in [*step["cautions"], *step["openings"][0]["cautions"]]
    said = CliRunner().invoke(
        main, ["job", "next", str(number), "--pick", "repair:replace_speed_sensor"],
        obj=client.app.state.workshop,
    ).output  # fmt: skip
    words = " ".join(said.split())
    assert words.index("Wait five minutes") < words.index(FRONT.access["rear_panel"].steps[0][:30])


@pytest.mark.parametrize("spin", ["empty_spin", "slow_turn_listen", "spin_recording"])
def test_a_spin_that_is_a_check_stands_the_machine_up_and_shuts_it(client, put_down, spin):
    dampers = mildest("look_dampers")
    number = put_down(dampers, mildest(spin))
    assert opened_first(picked(client, number, "repair", "reseat_damper")) == ["tipped"]
    unreached = put_down(dampers, Finding(spin, "cannot_reach"))
    assert opened_first(picked(client, unreached, "repair", "reseat_damper")) == []


STATES = {
    "taken in": (),
    "opened": MENDED[:2],
    "mended": MENDED,
    "failed": (*MENDED, Proof(False)),
    "back": (*MENDED, Proof(True), Closed("repair_hand_back"), None),
}


@pytest.mark.parametrize("state", STATES)
def test_the_advised_step_is_the_one_that_is_picked(client, workshop, put_down, state):
    bodies = STATES[state]
    number = put_down(*[body for body in bodies if body])
    if None in bodies:
        workshop.jobs.reopen(number)
    found = client.get(f"/api/jobs/{number}").json()["assessment"]
    step = found["next"]
    if step["kind"] == "ending":
        step = next(rival for rival in found["rivals"] if rival["kind"] != "ending")
    by_hand = picked(client, number, step["kind"], step["id"])
    for rival in found["rivals"]:
        if rival["kind"] in {"check", "repair"}:
            assert picked(client, number, rival["kind"], rival["id"])["minutes"] == rival["minutes"]
    assert by_hand["minutes"] == step["minutes"]
    for name in set(step) & {"cautions", "openings", "people", "tools", "steps", "question"}:
        assert by_hand[name] == step[name]
    told = json.loads(
        CliRunner().invoke(
            main, ["job", "next", str(number), "--pick", f"{step['kind']}:{step['id']}", "--json"],
            obj=workshop,
        ).output
    )["picked"]  # fmt: skip
    assert told == by_hand
    lines = {
        (line["kind"], line["id"]): line["minutes"]
        for group in client.get(f"/api/jobs/{number}/steps").json()
        for line in group["lines"]
    }
    assert lines[by_hand["kind"], by_hand["id"]] == by_hand["minutes"]


def test_a_proof_picked_by_hand_has_the_answers_of_the_advised_one(client, put_down):
    number = put_down(*MENDED)
    advised = client.get(f"/api/jobs/{number}").json()["assessment"]["next"]
    assert advised["kind"] == "proof"
    assert picked(client, number, "proof", "proof") == advised


def test_in_json_too_cautions_stand_before_what_they_are_about(client, put_down):
    step = picked(client, put_down(), "repair", "replace_speed_sensor")
    order = list(step)
    assert order.index("cautions") < order.index("openings") < order.index("steps")
    assert list(step["openings"][0])[-2:] == ["cautions", "steps"]


def test_terminal_and_sheet_say_what_tipping_takes_before_it_is_tipped(client, workshop, put_down):
    number = put_down()
    weighs, lean = f"weighs about {FRONT.typical_mass_kg:g} kg", FRONT.access["tipped"].steps[0]
    output = CliRunner().invoke(
        main, ["job", "next", str(number), "--pick", "check:look_dampers"], obj=workshop
    ).output  # fmt: skip
    said = " ".join(output.split())
    assert said.index(weighs) < said.index(lean[:25])
    workshop.jobs.record(number, Decision("repair_hand_back", 9000))
    view = job_view(workshop, number)
    step = StepBuilder(FRONT).named("repair", "reseat_damper")
    vars(view.snapshot)["assessment"] = replace(view.assessment, next=step)
    paper = sheet_html(build_sheet(view))
    assert paper.index(weighs) < paper.index(lean)
    assert people(2) in paper[: paper.index(lean)]


def test_stripping_a_machine_begins_with_its_cautions(client, workshop, put_down):
    number = put_down(Decision("part_out"))
    step = client.get(f"/api/jobs/{number}").json()["assessment"]["next"]
    assert step["id"] == "part_out"
    assert CHARGE in step["cautions"]
    page = client.get(f"/jobs/{number}").text
    assert page.index(CHARGE) < page.index("Strip the good assemblies")
    said = " ".join(
        CliRunner().invoke(main, ["job", "next", str(number)], obj=workshop).output.split()
    )
    assert said.index("Wait five minutes") < said.index("Strip the good")
