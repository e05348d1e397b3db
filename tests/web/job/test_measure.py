"""Measurements by hand on the pages: understood first, put down by a second button; impossible readings ask back."""

import re

import pytest
from tests.web.browser import PHONE, chromium, served
from tests.web.in_browser.test_browser import SMALL, TOO_WIDE
from tests.web.workbench import ForeseeableWorkshop

from counterpoise.bench.evidence import ANSWERS, check_readings
from counterpoise.catalog.loader import load_family
from counterpoise.report.views.measures.forms import FORMS, form_for, kind_for_check, kinds_for
from counterpoise.report.views.measures.handling import lifting_lines
from counterpoise.report.views.measures.interpretation import evaluate, interpret
from counterpoise.web.app import create_app
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Finding, Intake, Note
from counterpoise.workshop.store.store import Store

FAMILIES = {name: load_family(name) for name in ("front_loader", "top_loader")}
GAPS = {
    f"gaps.{place}": text
    for place, text in enumerate(("9", "8,5", "8", "7", "6.8", "7.5", "", "9"))
}
TYPED = {
    "level": {
        "front.0": "0.8",
        "front.1": "-0.6",
        "left.0": "-1.1",
        "floating.0": "rear left",
        "gap.0": "2",
    },
    "level_again": {
        "front.0": "0.1",
        "left.0": "0",
        "floating.0": "none",
        "was_front.0": "0.8",
        "was_front.1": "-0.6",
        "was_left.0": "-1.1",
        "was_floating.0": "rear left",
        "was_gap.0": "2",
    },
    "runout": GAPS,
    "strike": {
        f"walked.{place}": text
        for place, text in enumerate(("9", "8.5", "8", "7", "6.8", "7.5", "", "9"))
    },
    "bearing_tones": {"size.0": "6205", "speed.0": "1200"},
    "play": {"radial.0": "1.1", "radial.1": "1.3", "axial.0": "0.2"},
    "dampers": {"left.0": "7.5", "left.2": "8.1", "right.0": "1.2", "right.2": "1.3"},
    "bounce": {"push.0": "40", "count.0": "3"},
    "springs": {"left.0": "206", "right.0": "200"},
    "counterweight": {"loose.0": "1", "dust.0": "some"},
    "bearing": {"feel.0": "rough", "sound.0": "rumble"},
    "windings": {"ohm.0": "5.1", "ohm.1": "5.2", "ohm.2": "6.0", "leads.0": "0.1"},
    "safety": {"earth.0": "0.1", "insulation.0": "50", "conductor.0": "0.8", "touch.0": "0.1"},
    "lift": {"mass.0": "72.5"},
    "tip": {},
}


@pytest.fixture
def workshop(store):
    opened = ForeseeableWorkshop(store, FAMILIES)
    for name in FAMILIES:
        opened.jobs.open(Intake(name, "customer", f"A {name}", (), 6.0, {}), "ada")
    return opened


@pytest.fixture
def number(workshop):
    return workshop.jobs.lines()[-1].number


def boxes(typed):
    return {f"m.{name}": text for name, text in typed.items()}


def bodies(workshop, number):
    return [entry.body for entry in workshop.jobs.get(number).entries[1:]]


def test_each_sheet_is_tried_and_answers_what_the_bench_says():
    assert set(TYPED) == set(FORMS)
    assert {check for sheet in FORMS.values() for check in sheet.checks} == set(ANSWERS)
    for kind, typed in TYPED.items():
        assert set(check_readings(evaluate(FORMS[kind], typed))) == set(FORMS[kind].checks)


@pytest.mark.parametrize("kind", TYPED)
def test_every_caution_stands_before_the_measuring(kind):
    sheet = FORMS[kind]
    assert {caution.text for caution in evaluate(sheet, TYPED[kind]).cautions} <= set(
        sheet.cautions
    )


@pytest.mark.parametrize("name", FAMILIES)
def test_units_are_those_of_the_checks(name):
    for kind in kinds_for(FAMILIES[name]):
        typed, sheet = TYPED[kind], form_for(kind, FAMILIES[name])
        result = evaluate(sheet, typed)
        units = {one.unit for one in result.measures.values()}
        for one in interpret(sheet, result, FAMILIES[name]).counts:
            assert one.unit == FAMILIES[name].checks[one.check].reading.unit
            assert one.unit in units


@pytest.mark.parametrize(
    ("job", "kind"),
    [(job, kind) for job, family in enumerate(FAMILIES.values(), 1) for kind in kinds_for(family)],
)
def test_what_was_understood_is_shown_and_nothing_is_put_down(client, workshop, kind, job):
    family = workshop.family(workshop.jobs.get(job).intake.family)
    assert client.get(f"/jobs/{job}/measure/{kind}").status_code == 200
    page = client.post(f"/jobs/{job}/measure/{kind}", data=boxes(TYPED[kind]))
    told = client.post(f"/api/jobs/{job}/measure/{kind}", json={"typed": TYPED[kind]}).json()
    assert page.status_code == 200
    assert told["sentence"]
    assert [one["check"] for one in told["counts"]] == list(form_for(kind, family).checks)
    assert page.text.count('type="checkbox"') == len(told["counts"])
    if told["cautions"]:
        assert page.text.index("Before you start") < page.text.index('class="reason"')
    assert ("data:image/svg+xml" in page.text) == bool(told["numbers"])
    assert bodies(workshop, job) == []


@pytest.mark.parametrize("kind", sorted(set(TYPED) - set(kinds_for(FAMILIES["top_loader"]))))
def test_a_measurement_that_does_not_fit_says_why(client, kind):
    assert kind not in [one["kind"] for one in client.get("/api/jobs/2/measure").json()]
    answer = client.get(f"/api/jobs/2/measure/{kind}")
    assert answer.status_code == 404
    assert "is not measured on a top-loading washing machine" in answer.json()["what"]
    assert "What fits: Level and feet" in answer.json()["remedy"]


def test_the_words_are_those_of_the_kind_of_machine():
    sheet = form_for("play", FAMILIES["top_loader"])
    assert sheet.title == "Play of the basket"
    assert "Basket still, lid wide open" in " ".join(sheet.cautions)
    lift = " ".join(form_for("lift", FAMILIES["top_loader"]).cautions)
    assert "weighs about 55 kg" in lift
    assert "65 to 75 kg" in " ".join(form_for("lift", FAMILIES["front_loader"]).cautions)


def test_the_second_button_puts_the_findings_down_with_their_doubt(client, workshop, number):
    result = evaluate(FORMS["level"], TYPED["level"])
    form = boxes(TYPED["level"]) | {
        "last": "1",
        "by": "ada",
        "checks": ["measure_level", "measure_foot_gap"],
    }
    answer = client.post(f"/jobs/{number}/measure/level/findings", data=form)
    assert answer.headers["location"] == f"/jobs/{number}"
    first, second = bodies(workshop, number)
    assert (first.reading, first.reading_sd) == pytest.approx(
        (result.lean_rise.value, result.lean_rise.sd)
    )
    assert (second.reading, second.reading_sd) == pytest.approx((2.0, result.gap.sd))
    assert first.note == result.sentence


def test_only_what_is_ticked_is_put_down(client, workshop, number):
    form = boxes(TYPED["level"]) | {"last": "1", "checks": ["measure_foot_gap"]}
    client.post(f"/jobs/{number}/measure/level/findings", data=form)
    assert [body.check for body in bodies(workshop, number)] == ["measure_foot_gap"]
    refused = client.post(
        f"/jobs/{number}/measure/level/findings", data=boxes(TYPED["level"]) | {"last": "2"}
    )
    assert refused.status_code == 422
    assert len(bodies(workshop, number)) == 1


def test_a_stale_form_puts_nothing_down(client, workshop, number):
    workshop.jobs.record(number, Note("somebody else"))
    form = boxes(TYPED["play"]) | {"last": "1", "checks": ["drum_by_hand"]}
    assert client.post(f"/jobs/{number}/measure/play/findings", data=form).status_code == 409
    assert len(bodies(workshop, number)) == 1


def test_what_no_check_asks_for_is_kept_as_a_note(client, workshop, number):
    client.post(
        f"/jobs/{number}/measure/bearing/findings", data=boxes(TYPED["bearing"]) | {"last": "1"}
    )
    (body,) = bodies(workshop, number)
    assert isinstance(body, Note)
    assert body.text.startswith("Bearing. ")


def test_the_twin_puts_down_too(client, workshop, number):
    sent = {"typed": TYPED["springs"], "checks": ["measure_spring_length"], "expected_last": 1}
    assert (
        client.post(f"/api/jobs/{number}/measure/springs/findings", json=sent).json()["entry"] == 2
    )
    (body,) = bodies(workshop, number)
    assert isinstance(body, Finding)
    assert body.reading == pytest.approx(6.0)


def test_insulation_beyond_the_range_of_the_check_counts_as_its_end(client, workshop, number):
    form = boxes({"insulation.0": "5000"}) | {"last": "1", "checks": ["measure_insulation"]}
    assert client.post(f"/jobs/{number}/measure/safety/findings", data=form).status_code == 303
    assert bodies(workshop, number)[0].reading == 1000


def test_a_check_that_does_not_fit_the_machine_is_not_offered(client, workshop):
    needs = FAMILIES["front_loader"].checks["measure_stator_balance"].needs
    feature, wanted = next(iter(needs.items()))
    other = next(
        value for value in FAMILIES["front_loader"].features[feature].values if value != wanted
    )
    for value, count in ((wanted, 1), (other, 0)):
        job = workshop.jobs.open(
            Intake("front_loader", "customer", "One", (), 6.0, {feature: value}), "ada"
        ).number
        told = client.post(
            f"/api/jobs/{job}/measure/windings", json={"typed": TYPED["windings"]}
        ).json()
        assert len(told["counts"]) == count
        sent = boxes(TYPED["windings"]) | {"last": "1", "checks": ["measure_stator_balance"]}
        assert client.post(f"/jobs/{job}/measure/windings/findings", data=sent).status_code == 303
        assert isinstance(bodies(workshop, job)[0], Finding) == bool(count)


@pytest.mark.parametrize(
    ("kind", "typed", "at", "meant"),
    [
        ("runout", GAPS | {"gaps.1": "40"}, "gaps.1", "4"),
        ("dampers", {"left.0": "-7.5"}, "left.0", "7.5"),
        ("level", {"front.0": "15", "left.0": "0"}, "front.0", "1.5"),
        ("windings", TYPED["windings"] | {"at.0": "3500"}, "at.0", "35"),
    ],
)
def test_impossible_readings_ask_back_and_the_meant_value_can_be_taken(
    client, workshop, number, kind, typed, at, meant
):
    asked = client.post(f"/jobs/{number}/measure/{kind}", data=boxes(typed))
    assert asked.status_code == 422
    assert "Did you mean" in asked.text
    for name, text in typed.items():
        if text and "unit" not in name:
            assert f'name="m.{name}"' in asked.text
            assert f'value="{text}"' in asked.text
    hidden = dict(re.findall(r'type="hidden" name="(meant\w*)" value="([^"]*)"', asked.text))
    assert hidden == {"meant_at": f"m.{at}", "meant_for": typed[at], "meant": meant}
    taken = client.post(
        f"/jobs/{number}/measure/{kind}", data=boxes(typed) | hidden | {"take": "yes"}
    )
    assert taken.status_code == 200
    assert f'name="m.{at}" value="{meant}"' in taken.text
    # a box changed since is not overwritten
    kept = client.post(
        f"/jobs/{number}/measure/{kind}", data=boxes(typed | {at: "2"}) | hidden | {"take": "yes"}
    )
    assert f'name="m.{at}" value="2"' in kept.text
    twin = client.post(f"/api/jobs/{number}/measure/{kind}", json={"typed": typed})
    assert (twin.status_code, twin.json()["field"]) == (422, at)
    assert bodies(workshop, number) == []


@pytest.mark.parametrize(
    ("kind", "typed"),
    [(kind, {}) for kind in TYPED if kind not in {"counterweight", "bearing", "bearing_tones", "safety", "lift", "tip"}]
    + [
        ("runout", {"gaps.0": "wide"}), ("play", {"radial.0": "nan"}), ("level", {"unit.0": "yards"}),
        ("play", {"x": "1"}),
    ],
)  # fmt: skip
def test_what_cannot_be_understood_says_what_to_do(client, number, kind, typed):
    page = client.post(f"/jobs/{number}/measure/{kind}", data=boxes(typed))
    told = client.post(f"/api/jobs/{number}/measure/{kind}", json={"typed": typed})
    assert page.status_code == told.status_code == 422
    assert 'role="alert"' in page.text
    assert told.json()["remedy"]


def test_a_measurement_of_another_name_is_not_there(client, number):
    assert client.get(f"/jobs/{number}/measure/taste").status_code == 404


def test_the_readings_can_be_changed_after_they_were_understood(client, number):
    page = client.post(
        f"/jobs/{number}/measure/play", data=boxes(TYPED["play"]) | {"edit": "yes"}
    ).text
    assert re.search(r'name="m.radial.0"[^>]*value="1.1"', page)


def test_the_bench_page_leads_to_the_measurement_of_its_step(client, number):
    page = client.get(f"/jobs/{number}/steps/check/measure_level").text
    assert f'href="/jobs/{number}/measure/level"' in page
    assert client.get(f"/api/jobs/{number}/steps/check/measure_level").json()["measure"] == "level"
    assert client.get(f"/jobs/{number}/steps").text.count(f'href="/jobs/{number}/measure"') == 1
    assert kind_for_check("look_dampers", FAMILIES["front_loader"]) == ""


@pytest.mark.parametrize(("job", "check"), [(1, "look_dampers"), (2, "look_coupler")])
def test_a_step_that_tips_the_machine_says_first_what_that_takes(client, workshop, job, check):
    family = workshop.family(workshop.jobs.get(job).intake.family)
    (line,) = lifting_lines(StepBuilder(family).named("check", check), family)
    assert f"{family.typical_mass_kg:g} kg" in line
    assert "people" in line
    page = client.get(f"/jobs/{job}/steps/check/{check}").text
    assert page.index(line) < page.index('class="steps"')
    assert client.get(f"/api/jobs/{job}/steps/check/{check}").json()["lifting"] == [line]
    assert lifting_lines(StepBuilder(family).named("check", "measure_level"), family) == ()


@pytest.mark.browser
def test_on_a_phone_without_scripts(tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, FAMILIES)
        number = workshop.jobs.open(
            Intake("front_loader", "customer", "Veltro 6", (), 6.0, {}), "ada"
        ).number
        with served(create_app(workshop)) as address, chromium() as browser:
            context = browser.new_context(viewport=PHONE, has_touch=True, java_script_enabled=False)
            page = context.new_page()
            base = f"{address}/jobs/{number}/measure"
            looking = browser.new_context(viewport=PHONE, has_touch=True).new_page()
            for path in ("", *(f"/{kind}" for kind in FORMS)):
                looking.goto(base + path)
                looking.evaluate(
                    "() => document.querySelectorAll('details').forEach(one => { one.open = true; })"
                )
                assert looking.evaluate(TOO_WIDE) == 0, path
                assert looking.evaluate(SMALL) == [], path
            page.goto(base)
            page.get_by_role("link", name="Runout of the drum").tap()
            for place, text in enumerate(("9", "85", "8", "7", "6.8", "7.5", "", "9")):
                page.locator(f'[name="m.gaps.{place}"]').fill(text)
            page.get_by_role("button", name="Show what it says").tap()
            page.get_by_role("button", name="Yes, 8.5").tap()
            page.get_by_text("Nothing is saved yet").wait_for(timeout=60_000)
            assert page.locator("img.drawn").bounding_box()["height"] > 100
            assert bodies(workshop, number) == []
            page.get_by_role("button", name="Save", exact=True).tap()
            page.wait_for_url(f"{address}/jobs/{number}", timeout=60_000)
            assert [body.check for body in bodies(workshop, number)] == ["measure_rim_runout"]


def test_after_the_feet_were_turned_the_level_is_checked_against_what_was_foreseen(client, number):
    seen = client.post(f"/jobs/{number}/measure/level", data=boxes(TYPED["level"])).text
    assert "I have turned the feet: check it" in seen
    hidden = dict(re.findall(r'name="m\.(was_[^"]+)" value="([^"]+)"', seen))
    assert hidden == {f"was_{name}": text for name, text in TYPED["level"].items()}
    form = client.post(
        f"/jobs/{number}/measure/level_again", data=boxes(hidden) | {"edit": "yes"}
    ).text
    assert 'name="m.was_front.0"' in form
    now = {"front.0": "0", "left.0": "0", "floating.0": "none"}
    good = client.post(
        f"/api/jobs/{number}/measure/level_again", json={"typed": hidden | now}
    ).json()
    assert "what was foreseen" in good["sentence"]
    wrong = {"front.0": "1.4", "left.0": "-2.2", "floating.0": "rear left", "gap.0": "4"}
    bad = client.post(
        f"/api/jobs/{number}/measure/level_again", json={"typed": hidden | wrong}
    ).json()
    assert "what was foreseen" not in bad["sentence"]


def test_a_check_without_the_first_readings_is_asked_back(client, number):
    answer = client.post(
        f"/api/jobs/{number}/measure/level_again", json={"typed": {"front.0": "0", "left.0": "0"}}
    )
    assert answer.status_code == 422
    assert answer.json()["field"] == "was_front.0"


def test_the_tones_of_a_bearing_follow_its_size_and_speed(client, number):
    """6205: 3.5848 and 5.4152 a turn (Case Western Reserve University bearing data centre)."""
    sent = {"typed": {"size.0": "6205", "speed.0": "1200"}}
    told = client.post(f"/api/jobs/{number}/measure/bearing_tones", json=sent).json()
    numbers = [float(re.match(r"[-0-9.]+", one["text"]).group()) for one in told["numbers"]]
    assert any(value == pytest.approx(3.5848 * 20, rel=0.01) for value in numbers)
    assert any(value == pytest.approx(5.4152 * 20, rel=0.01) for value in numbers)


def test_the_level_form_says_which_box_is_which_and_shows_it(client, number):
    text = client.get(f"/jobs/{number}/measure/level").text
    for words in (
        "as it shows, mark to the right",
        "turned end for end, mark to the left",
        "as it shows, mark to the rear",
        "turned end for end, mark to the front",
        "plus where the marked end is high",
    ):
        assert words in text
    assert 'src="data:image/svg+xml;base64,' in text
    assert 'alt="Two drawings of a level' in text
    assert 'src="data:image' not in client.get(f"/jobs/{number}/measure/play").text


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ({"front.0": "3", "front.1": "1", "left.0": "0"}, "off by 2.0 degrees"),
        (
            {"front.0": "0.8", "front.1": "0.8", "left.0": "0.1", "left.1": "-0.1"},
            "was a sign left out",
        ),
        ({"front.0": "0.8", "front.1": "-0.6", "left.0": "-1.1"}, ""),
    ],
)
def test_a_pair_that_means_a_bad_tool_is_asked_about_on_page_and_in_json(
    client, number, typed, asked
):
    text = client.post(f"/jobs/{number}/measure/level", data=boxes(typed)).text
    remarks = client.post(f"/api/jobs/{number}/measure/level", json={"typed": typed}).json()[
        "remarks"
    ]
    assert any(asked in remark for remark in remarks) if asked else not remarks
    assert asked in text
