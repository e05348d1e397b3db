"""A job read once: nothing is computed before it is asked for, and nothing twice."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP, job
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.jobs.entries import Finding, Intake
from counterpoise.workshop.services.assessments import Assessments
from counterpoise.workshop.services.snapshot import JobSnapshot
from counterpoise.workshop.services.workshop import Workshop


@pytest.fixture
def asked():
    """The cases that were assessed, in order."""
    return []


@pytest.fixture
def shop(store, asked):
    return Workshop(store, {"small": FAMILY}, lambda case: asked.append(case) or object())


@pytest.fixture
def number(shop):
    return shop.jobs.open(INTAKE, "ada").number


def test_a_snapshot_computes_nothing_until_it_is_asked(shop, number, asked):
    snapshot = shop.snapshot(number)
    assert (snapshot.job.number, snapshot.family, snapshot.settings) == (
        number,
        FAMILY,
        shop.settings(),
    )
    assert asked == []
    assert snapshot.assessment is snapshot.assessment
    assert len(asked) == 1


def test_the_same_evidence_is_assessed_once_for_all_who_ask(shop, number, asked):
    first = shop.snapshot(number).assessment
    assert shop.snapshot(number).assessment is first
    assert len(asked) == 1


def test_every_entry_and_every_setting_asks_anew(shop, number, asked):
    seen = {id(shop.snapshot(number).assessment)}
    shop.jobs.record(number, Finding("play", "none"), "ada")
    seen.add(id(shop.snapshot(number).assessment))
    shop.change_settings({"bench_rate_minor": 4321})
    seen.add(id(shop.snapshot(number).assessment))
    assert len(seen) == len(asked) == 3


def test_careful_and_plain_are_kept_side_by_side(shop, number, asked):
    plain, careful = shop.snapshot(number), shop.snapshot(number, careful=True)
    assert plain.assessment is not careful.assessment
    assert [case.settings.careful for case in asked] == [False, True]
    assert shop.snapshot(number, careful=True).assessment is careful.assessment
    assert len(asked) == 2


def test_where_the_settings_are_careful_both_are_the_same(shop, number, asked):
    shop.change_settings({"careful": True})
    plain, careful = shop.snapshot(number), shop.snapshot(number, careful=True)
    assert plain.assessment is careful.assessment
    assert len(asked) == 1


def test_a_snapshot_does_not_follow_what_is_written_later(shop, number):
    snapshot = shop.snapshot(number)
    shop.jobs.record(number, Finding("play", "none"), "ada")
    assert len(snapshot.job.entries) == 1
    assert len(shop.snapshot(number).job.entries) == 2


def test_two_snapshots_of_one_job_are_equal_whoever_assesses(shop, number):
    case = shop.snapshot(number)
    assert case == replace(case, assessments=Assessments(lambda _: None))


def test_there_is_no_snapshot_of_no_job(shop, number):
    with pytest.raises(NotFoundError):
        shop.snapshot(number + 1)


def test_a_family_that_is_gone_is_said_in_words(shop, number, store):
    with pytest.raises(InputError, match="there is no 'small'"):
        Workshop(store, {"front_loader": FRONT}).snapshot(number)


# --- the assessments kept ---


def case(number, *bodies):
    at = job(*bodies)
    return JobCase(replace(at, number=number), FRONT, SHOP)


def test_the_assessment_asked_for_longest_ago_goes_first():
    asked = []
    kept = Assessments(lambda c: asked.append(c.job.number) or object(), most=2)
    for number in (1, 2, 1, 3, 1, 2):
        kept.of(case(number))
    # 2 went when 3 came, since 1 had been asked for in between
    assert asked == [1, 2, 3, 2]


def test_an_assessor_that_fails_leaves_nothing_kept():
    answers = [RuntimeError("no solution"), "an assessment"]

    def assessor(_):
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    kept = Assessments(assessor)
    with pytest.raises(RuntimeError, match="no solution"):
        kept.of(case(1))
    assert kept.of(case(1)) == "an assessment"
    assert kept.of(case(1)) == "an assessment"


# --- costing ---


def snapshot_of(step, *bodies):
    assessments = Assessments(lambda _: SimpleNamespace(next=step))
    return JobSnapshot(job(*bodies), FRONT, SHOP, assessments=assessments)


@pytest.mark.parametrize("kind", ["check", "ending"])
def test_only_an_advised_repair_is_costed(kind):
    repair = SimpleNamespace(id="replace_belt", kind="repair")
    other = SimpleNamespace(id="replace_belt", kind=kind)
    assert [e.id for e in snapshot_of(repair).costing().repairs] == ["replace_belt"]
    assert snapshot_of(other).costing() == snapshot_of(None).costing()


def test_repairs_named_go_before_the_one_advised():
    advised = SimpleNamespace(id="replace_belt", kind="repair")
    costing = snapshot_of(advised).costing(("replace_drum_support",))
    assert [entry.id for entry in costing.repairs] == ["replace_drum_support"]


def test_a_repair_that_the_family_does_not_know_is_refused():
    with pytest.raises(InputError, match="replace_moon"):
        snapshot_of(None).costing(("replace_moon",))


# --- settings ---


def test_the_currency_stays_that_of_the_catalog(shop):
    before = shop.settings()
    with pytest.raises(InputError, match="in EUR, not USD") as refusal:
        shop.change_settings({"currency": "USD", "bench_rate_minor": 1})
    assert refusal.value.field == "currency"
    assert shop.settings() == before
    assert shop.change_settings({"currency": "EUR"}).currency == "EUR"


def test_a_workshop_without_families_may_choose_its_currency(store):
    assert Workshop(store, {}).change_settings({"currency": "CHF"}).currency == "CHF"


def test_the_title_and_family_of_each_job_are_listed_newest_first(shop, number):
    second = shop.jobs.open(Intake("small", "workshop", "Quarrow 9", ("walks",)), "bo").number
    assert [line.number for line in shop.jobs.lines()] == [second, number]
    assert shop.jobs.family_of(second) is FAMILY
