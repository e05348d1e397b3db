"""A job's own figures: by page, twin and terminal; what the machine in motion makes of them."""

from dataclasses import replace

import pytest
from click.testing import CliRunner
from tests.web.workbench import FAMILY, FAULTS, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main

FAMILIES = {name: load_family(name) for name in ("front_loader", "top_loader")}


@pytest.fixture
def workshop(store):
    own = replace(
        FAMILY, id="front_loader", faults=FAULTS, figures=FAMILIES["front_loader"].figures
    )
    return ForeseeableWorkshop(store, {"front_loader": own, "bench": FAMILY})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(replace(INTAKE, family="front_loader"), "ada").number


def put(client, number, how="counted", **values):
    answer = client.post(f"/api/jobs/{number}/machine", json={"values": values, "how": how})
    assert answer.status_code == 201, answer.text
    return answer.json()["entry"]


def by_name(told):
    return {one["name"]: one for one in told["values"]}


def test_what_the_plate_says_is_kept_when_the_machine_comes_in(client):
    form = {
        "family": "front_loader",
        "owner": "customer",
        "complaints": "shakes",
        "figure.dampers": "3",
        "figure.spin_rpm": "1 400".replace(" ", ""),
    }
    place = client.post("/jobs", data=form).headers["location"]
    told = client.get(f"/api{place}/machine").json()
    known = {
        one["id"]: (one["value"], one["how"], one["entry"]) for one in told["figures"] if one["how"]
    }
    assert known == {
        "dampers": (3, "from the plate or papers", 2),
        "spin_rpm": (1400, "from the plate or papers", 2),
    }


def test_the_page_shows_what_is_known_and_from_which_entry(client, number):
    form = {"how": "measured", "figure.clearance_mm": "24,5", "figure.machine_kg": "", "by": "ada"}
    answer = client.post(f"/jobs/{number}/machine", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{number}/machine")
    page = client.get(f"/jobs/{number}/machine").text
    assert "Room of the tub before it strikes: 24.5 mm" in page
    assert f'href="/jobs/{number}/evidence#e2"' in page
    assert "Figures of the machine, measured" in client.get(f"/jobs/{number}/evidence").text


def test_the_machine_in_motion_reckons_with_them_and_says_where_each_is_from(client, number):
    entry = put(client, number, dampers=4, springs=4, spin_rpm=1000, machine_kg=76, clearance_mm=20)
    told = client.get(f"/api/jobs/{number}/twin?chosen=true&spring_n_m=8500").json()
    values = by_name(told)
    assert told["top_rpm"] == 1000
    assert told["top_rpm_known"] == f"from the job: seen and counted (entry {entry})"
    assert [
        values[n]["value"] for n in ("dampers", "spring_pairs", "oscillating_kg", "cabinet_kg")
    ] == [4, 2, 57, 19]
    assert values["stop_m"]["value"] == 0.02
    assert told["machines"][0]["answers"]["clearance_mm"] == pytest.approx(20)
    origins = {values[n]["origin"] for n in ("dampers", "oscillating_kg", "stop_m")}
    assert origins == {"job"}
    assert values["spring_n_m"]["origin"] == "typed"
    assert values["drum_kg"]["known"] == "usual for its kind"
    assert "shared out from the whole machine's 76 kg" in values["cabinet_kg"]["known"]
    assert "seen and counted" in client.get(f"/jobs/{number}/twin?chosen=true").text


def test_taken_back_the_usual_holds_again(client, number):
    entry = put(client, number, dampers=4)
    client.post(f"/api/jobs/{number}/retractions", json={"entry": entry})
    assert (
        by_name(client.get(f"/api/jobs/{number}/twin?chosen=true").json())["dampers"]["origin"]
        == "usual"
    )


def test_a_known_half_leaves_the_rest_to_the_other(client, number):
    put(client, number, machine_kg=70, cabinet_kg=25)
    values = by_name(client.get(f"/api/jobs/{number}/twin?chosen=true").json())
    assert (values["oscillating_kg"]["value"], values["cabinet_kg"]["value"]) == (45, 25)
    put(client, number, machine_kg=55)
    answer = client.get(f"/api/jobs/{number}/twin?chosen=true")
    assert answer.status_code == 422
    assert "63 to 91 kg is valid" in answer.json()["remedy"]


@pytest.mark.parametrize(
    ("values", "remedy"),
    [
        ({"machine_kg": -60}, "50 to 94"),
        ({"spin_rpm": 20000}, "Did you mean 2e+03 rpm"),
        ({"springs": 3}, "2 or 4"),
    ],
)
def test_nonsense_is_refused_by_page_twin_and_terminal(client, workshop, number, values, remedy):
    ((name, value),) = values.items()
    answers = [
        client.post(f"/api/jobs/{number}/machine", json={"values": values}),
        client.post(f"/jobs/{number}/machine", data={f"figure.{name}": str(value)}),
    ]
    said = CliRunner().invoke(
        main, ["job", "machine", str(number), "--set", f"{name}={value}"], obj=workshop
    )
    assert [one.status_code for one in answers] == [422, 422]
    assert said.exit_code == 2
    for text in (answers[0].json()["remedy"], answers[1].text, said.output):
        assert remedy in text
    assert len(workshop.jobs.get(number).entries) == 1


def test_the_terminal_puts_down_shows_and_spins(workshop, number):
    def call(*words):
        found = CliRunner().invoke(main, list(words), obj=workshop)
        assert found.exit_code == 0, found.output
        return " ".join(found.output.split())

    assert "No figure of this machine is known" in call("job", "machine", str(number))
    told = call(
        "job",
        "machine",
        str(number),
        "--set",
        "dampers=3",
        "--set",
        "spin_rpm=800",
        "--how",
        "counted",
    )
    assert "dampers 3 pieces, seen and counted, entry 2" in told
    spun = call("twin", "--job", str(number))
    assert "dampers 3, from the job: seen and counted (entry 2)" in spun
    assert "at 800 rpm" in spun
    other = call("twin", "--job", str(number), "--set", "dampers=2", "--top-rpm", "600")
    assert "dampers 3" not in other
    assert "at 600 rpm" in other
