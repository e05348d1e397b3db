"""The machine in motion fitted to a recording of the job: page, twin, terminal; kept as figures of the machine."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from click.testing import CliRunner
from tests.web.workbench import FAMILY, FAULTS, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.dynamics import Load, Phone, Run, build, simulate, spin_cycle
from counterpoise.workshop.jobs.entries import Figures

FIGURES = load_family("front_loader").figures


@pytest.fixture(scope="module")
def spin_csv():
    """A spin of a machine with little friction, 5 kg in it and 0.45 kg out of balance, as a phone logs it."""
    machine = build("front_loader", {"damper_friction_n": 30.0, "foot_n_m": 4e5})
    machine = replace(machine, load=Load(5.0)).with_unbalance(0.45, 0.7)
    spin = simulate(machine, Run(spin_cycle(1100.0), phone=Phone(0.05, -0.1, 0.8)), 400.0)
    heard = spin.panel_m_s2[::4] + np.random.default_rng(0).normal(
        0.0, 0.02, spin.panel_m_s2[::4].shape
    )
    rows = np.column_stack([spin.t_s[::4], heard])
    return "t_s,ax_ms2,ay_ms2,az_ms2\n" + "\n".join(
        ",".join(f"{x:.5f}" for x in row) for row in rows
    )


@pytest.fixture
def workshop(store):
    own = replace(FAMILY, id="front_loader", faults=FAULTS, figures=FIGURES)
    return ForeseeableWorkshop(store, {"front_loader": own, "bench": FAMILY})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(replace(INTAKE, family="front_loader"), "ada").number


@pytest.fixture
def kept(client, number, spin_csv):
    return client.post(f"/api/jobs/{number}/recording?name=spin.csv", content=spin_csv).json()[
        "recording"
    ]


def test_the_fit_is_told_kept_and_reckoned_with(client, workshop, number, kept):
    place = f"/jobs/{number}/recording/{kept}/fit"
    told = client.get(f"/api{place}?load=5").json()
    lines = {one["id"]: one for one in told["figures"]}
    friction = lines["damper_friction_n"]
    assert friction["told"]
    assert abs(friction["value"] - 30.0) < 2.5 * friction["error"]
    assert told["off"] < 1.4 < told["off_usual"]
    page = client.get(f"{place}?load=5").text
    assert told["sentence"] in page
    assert f"<b>{friction['sentence']}</b>" in page
    chart = page[page.index('<figure class="figure">') : page.index("</figure>")]
    assert {"recorded", "fitted"} <= set(re.findall(r"<text[^>]*>([^<]*)<", chart))
    assert chart.count("<circle") > 20
    drawn = client.get(f"{place}.svg?load=5")
    assert "recorded" in " ".join(ET.fromstring(drawn.content).itertext())
    answer = client.post(place, data={"load": "5", "by": "ada", "last": str(told["last"])})
    assert answer.headers["location"] == f"/jobs/{number}/machine"
    body = workshop.jobs.get(number).entries[-1].body
    assert isinstance(body, Figures)
    assert (body.how, body.recording) == ("fitted", kept)
    assert (
        set(body.values)
        == {one["id"] for one in told["figures"] if one["told"]}
        == set(body.errors)
    )
    spun = {
        one["name"]: one
        for one in client.get(f"/api/jobs/{number}/twin?chosen=true").json()["values"]
    }
    assert spun["damper_friction_n"]["known"] == "from the job: fitted to a recording (entry 2)"
    assert "give or take" in client.get(f"/jobs/{number}/machine").text


def test_the_terminal_fits_the_latest_and_a_new_fit_does_not_lean_on_the_old(
    workshop, number, client, kept
):
    workshop.jobs.record(number, Figures({"cabinet_kg": 20.0}, "measured"))
    free = ["--free", "damper_friction_n", "--free", "foot_n_m", "--load", "5"]

    def call(*words):
        found = CliRunner().invoke(main, ["job", "fit", str(number), *words, *free], obj=workshop)
        return found.exit_code, found.output

    assert call()[0] == 2  # nothing put down yet
    first = call(kept, "--keep")
    assert first[0] == 0
    assert "Cabinet alone, from the job: measured" in first[1]
    again = call()
    assert again[1].splitlines()[:4] == first[1].splitlines()[:4]
    assert client.get(f"/api/jobs/{number}/recording").json()["recordings"] == [kept]


def test_what_cannot_be_fitted_is_refused_in_words(client, number, kept):
    place = f"/api/jobs/{number}/recording/{kept}/fit"
    assert client.get(f"{place}?free=dampers").status_code == 422
    assert client.get(f"{place}?load=heavy").json()["field"] == "load"
    assert client.get(f"/api/jobs/{number}/recording/nothing/fit").status_code == 404
    still = "t,x,y,z\n" + "\n".join(f"{n / 100:.2f},0.0{n % 3},0.0,9.81" for n in range(3000))
    quiet = client.post(f"/api/jobs/{number}/recording?name=still.csv", content=still).json()[
        "recording"
    ]
    answer = client.get(f"/api/jobs/{number}/recording/{quiet}/fit")
    assert answer.status_code == 422
    assert "climbs from standstill" in answer.json()["remedy"]
