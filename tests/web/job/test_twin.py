"""The machine in motion as a page, and its twin: any machine of a kind, and that of a job with what is suspected."""

import base64
import json
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner
from tests.web.workbench import FAMILY, FAULTS, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.report.views.twin_question import LIMITS, read_question
from counterpoise.report.words.machine_figures import VALUE_WORDS

PRESETS = {
    "damper_worn": "damper_weak",
    "support_cracked": "drum_support_cracked",
    "not_level": None,
}


@pytest.fixture
def workshop(store):
    faults = {key: replace(fault, twin=PRESETS[key]) for key, fault in FAULTS.items()}
    return ForeseeableWorkshop(
        store, {"front_loader": replace(FAMILY, id="front_loader", faults=faults), "bench": FAMILY}
    )


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(replace(INTAKE, family="front_loader"), "ada").number


def figures(page):
    found = re.findall(
        r'<img class="curve" src="data:image/svg\+xml;base64,([^"]+)" alt="[^"]+">', page
    )
    return [ET.fromstring(base64.b64decode(one)) for one in found]


def test_the_page_says_first_in_sentences_what_the_machine_does(client):
    page = client.get("/twin?fault=damper_dead").text
    told = client.get("/api/twin?fault=damper_dead").json()
    assert [one["key"] for one in told["machines"]] == ["sound", "damper_dead"]
    place = 0
    for sentence in (sentence for one in told["machines"] for sentence in one["sentences"]):
        place = page.index(sentence, place) + 1  # in this order
    assert place < page.index('class="curve"') < page.index("<form")
    for said in (
        "Swings of its own at",
        "The tub moves at most",
        "The floor takes up to",
        "One single heavy thing",
    ):
        assert said in page


def test_a_dead_damper_is_one_tap_away(client):
    assert (
        'href="/twin?family=top_loader&amp;fault=damper_dead"'
        in client.get("/twin?family=top_loader").text
    )


def test_page_and_terminal_tell_the_same(client):
    asking = [
        "--fault",
        "short_foot",
        "--set",
        "spring_n_m=8500",
        "--top-rpm",
        "1000",
        "--load",
        "2",
        "--heaviest",
    ]
    lines = CliRunner().invoke(main, ["twin", *asking]).output
    told = client.get("/api/twin?fault=short_foot&spring_n_m=8500&top_rpm=1000&load=2").json()
    said = [sentence for one in told["machines"] for sentence in one["sentences"]]
    assert len(said) == 12
    for sentence in said:
        assert sentence in " ".join(lines.split())


def test_the_figures_show_every_machine_in_words(client):
    drawn = figures(client.get("/twin?fault=damper_dead").text)
    assert len(drawn) == 3
    for one in (drawn[0], drawn[2]):
        words = " ".join(one.itertext())
        assert "sound" in words
        assert "one damper without grip" in words


def test_a_job_sets_its_leading_suspects_beside_the_sound_machine(client, number):
    told = client.get(f"/api/jobs/{number}/twin").json()
    assert [(one["key"], one["suspected"]) for one in told["machines"]] == [
        ("sound", []), ("damper_weak", ["Dampers worn"]), ("drum_support_cracked", ["Drum support cracked"]),
    ]  # fmt: skip
    page = client.get(f"/jobs/{number}/twin").text
    assert "Suspected here: Dampers worn" in page
    assert f'href="/jobs/{number}/twin"' in client.get(f"/jobs/{number}").text
    assert 'name="fault" value="damper_weak" checked' in page


def test_what_is_spun_is_the_load_that_shows_the_fault_unless_one_is_typed(client, number):
    told = client.get(f"/api/jobs/{number}/twin").json()
    assert told["unbalance_kg"] == 1.2
    worn = told["machines"][1]["sentences"][0]
    assert worn.startswith("With 1.2 kg out of balance: travel of the tub on its way up")
    assert "times; more in" in worn
    light = client.get(f"/api/jobs/{number}/twin?unbalance=0.3").json()
    assert light["unbalance_kg"] == 0.3
    # with a towel nothing is said of the travel: sound dampers hold the tub fast as well
    assert "travel of the tub on its way up" not in light["machines"][1]["sentences"][0]
    assert client.get("/api/twin").json()["unbalance_kg"] == 0.3


def test_two_faults_at_once_are_spun_and_nothing_is_claimed(client):
    told = client.get("/api/twin?fault=damper_weak%2Bshort_foot").json()["machines"][1]
    assert told["words"] == "all dampers worn and one foot short"
    assert told["sentences"][0].startswith("Nothing is claimed")
    assert "times" not in told["sentences"][0]


def test_what_is_chosen_by_hand_goes_before_the_suspects(client, number):
    other = client.get(f"/api/jobs/{number}/twin?chosen=true&fault=damper_dead").json()["machines"]
    assert [one["key"] for one in other] == ["sound", "damper_dead"]
    alone = client.get(f"/api/jobs/{number}/twin?chosen=true").json()["machines"]
    assert [one["key"] for one in alone] == ["sound"]


def test_a_machine_without_a_model_offers_no_spin(client, workshop):
    number = workshop.jobs.open(INTAKE).number
    assert f"/jobs/{number}/twin" not in client.get(f"/jobs/{number}").text
    answer = client.get(f"/jobs/{number}/twin")
    assert answer.status_code == 422
    assert "no model in motion" in answer.text


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("unbalance=9", "unbalance"),
        ("unbalance=much", "unbalance"),
        ("top_rpm=nan", "top_rpm"),
        ("spring_n_m=1", "spring_n_m"),
        ("dampers=2.5", "dampers"),
        ("rods_n_m=8000", "rods_n_m"),
        ("fault=cracked", "fault"),
        ("fault=short_foot:1:inf", "part"),
        ("fault=ring_empty", "fault"),
        ("fault=damper_dead&fault=damper_weak&fault=spring_off&fault=overload", "fault"),
        ("family=dryer", "family"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(client, query, field):
    answer = client.get(f"/api/twin?{query}")
    assert answer.status_code == 422
    assert answer.json()["field"] == field
    assert answer.json()["remedy"]


@pytest.mark.parametrize(
    ("name", "value", "reason", "valid"),
    [
        ("oscillating_kg", "-5", "-5", "38 to 66"),
        ("top_rpm", "2500", "beyond the model: drum and panels bend", "100 to 2000"),
        ("stop_m", "2", "2", "0.018 to 0.032"),
    ],
)
def test_nonsense_is_refused_with_reason_and_range_on_page_twin_and_terminal(
    client, name, value, reason, valid
):
    asking = ["--top-rpm", value] if name == "top_rpm" else ["--set", f"{name}={value}"]
    said = CliRunner().invoke(main, ["twin", *asking])
    pages = [client.get(f"{path}?{name}={value}") for path in ("/twin", "/api/twin")]
    assert said.exit_code == 2
    assert [one.status_code for one in pages] == [422, 422]
    for text in (said.output, *(one.text for one in pages)):
        assert reason in text.replace("\N{MINUS SIGN}", "-")
        assert valid in text


def test_a_tub_on_a_base_is_refused_and_one_not_looked_at_is_taken_to_hang(client, workshop):
    kind = load_family("top_loader")
    faults = FAULTS | {"damper_worn": replace(FAULTS["damper_worn"], twin="damper_weak")}
    own = replace(
        FAMILY, id="top_loader", faults=faults, features=kind.features, twin_needs=kind.twin_needs
    )
    workshop.families._families["top_loader"] = own
    on_base, unknown = (
        workshop.jobs.open(replace(INTAKE, family="top_loader", features=has), "ada").number
        for has in ({"suspension": "base"}, {})
    )
    answer = client.get(f"/api/jobs/{on_base}/twin")
    assert answer.status_code == 422
    assert (
        "On a base with springs and pads: there is no model in motion of such a machine"
        in answer.json()["what"]
    )
    assert f"/jobs/{on_base}/twin" not in client.get(f"/jobs/{on_base}").text
    assert "taken for granted" in client.get(f"/api/jobs/{unknown}/twin").json()["taken_as"]
    assert "On four rods" in client.get(f"/jobs/{unknown}/twin").text


def test_the_shake_is_told_at_the_point_asked_for_as_in_the_terminal(client):
    told = client.get("/api/twin?point_x=0.2&point_y=-0.2").json()
    middle = client.get("/api/twin").json()
    assert told["point_m"] == [0.2, -0.2]
    here, there = (one["machines"][0]["answers"]["panel_top_m_s2"] for one in (told, middle))
    assert here != there  # across it moves as one; up and down the corners move more
    said = json.loads(CliRunner().invoke(main, ["twin", "--point", "0.2,-0.2", "--json"]).output)
    assert said["sound"]["panel_top_m_s2"] == here
    assert client.get("/api/twin?point_x=1").json()["field"] == "point_x"


def test_what_is_typed_comes_back_and_an_empty_field_means_the_usual():
    texts = {"unbalance": "0,5", "top_rpm": "", "spring_n_m": " 8500 ", "depth": "1"}
    question = read_question("front_loader", texts, ("damper_dead", "damper_dead"))
    assert (question.unbalance_kg, question.top_rpm, question.depth) == (0.5, None, 1.0)
    assert (question.values, question.faults) == ((("spring_n_m", 8500.0),), ("damper_dead",))


def test_every_figure_of_every_kind_has_words_and_a_field_of_its_own():
    assert all(kind.title for kind in FAMILIES.values())
    names = {name for kind in FAMILIES.values() for name in kind.values}
    assert names == set(VALUE_WORDS)
    assert not names & set(LIMITS)
