"""What closed jobs teach, on a small family where it can be reckoned by hand."""

import numpy as np
import pytest
from tests.workshop.learning.jobs_of import (
    DAMPERS,
    DRUM,
    FAMILY,
    FEET,
    SETTINGS,
    job_of,
    mended,
    workshop_of,
)

from counterpoise.catalog.family import Family
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.jobs.entries import Closed, Finding, Job, Proof, RepairDone, Retraction
from counterpoise.workshop.learning.account import account_of
from counterpoise.workshop.learning.judged import judge
from counterpoise.workshop.learning.learn import Learned, facts_of_jobs, learn, learned_family


def learned_of(jobs: list[Job], family: Family = FAMILY) -> Learned:
    return learn(family, SETTINGS, facts_of_jobs(family, SETTINGS, jobs))


def here(learned: Learned, place: str) -> float:
    return next(each.here for each in learned.figures if each.place == place)


def chance(job: Job, name: str, *, labelled: bool = True) -> float:
    model = family_model(FAMILY)
    return float(account_of(FAMILY, SETTINGS, job).belief(labelled=labelled) @ model.mask(name))


def test_what_was_mended_is_believed_to_have_been_there() -> None:
    # by now nothing is wrong with it; what is asked is what was
    assert chance(mended(1, DAMPERS), DAMPERS, labelled=False) > 0.95
    failed = job_of(1, RepairDone("set_of_dampers"), Proof(passed=False), Closed("scrap"))
    assert chance(failed, DAMPERS) < 0.15


def test_looking_back_agrees_with_adding_up_all_that_may_have_happened() -> None:
    job = job_of(
        1, Finding("push", "bad"), RepairDone("set_of_dampers"), Proof(passed=False),
        Finding("turn", "bad"), RepairDone("new_bearing"), Proof(passed=True),
        Closed("repair_resell", (), 1, likely=(DRUM,)),
    )  # fmt: skip
    model = family_model(FAMILY)
    sets = [frozenset(model.hypotheses.fault_ids[i] for i in s) for s in model.hypotheses.sets]
    account = account_of(FAMILY, SETTINGS, job)
    misses, alarms = model.proof.misses, model.proof.false_alarms

    def shows(name: str, faults: frozenset[str]) -> float:
        column = sets.index(faults)
        return float(model.tables[name][1, column])

    joint = np.zeros(len(sets))
    for i, start in enumerate(sets):
        for dampers_cured in (True, False):
            chance_dampers = (
                (0.95 if dampers_cured else 0.05) if DAMPERS in start else float(not dampers_cured)
            )
            second = start - {DAMPERS} if dampers_cured else start
            failed = (1 - misses) if second else alarms
            for drum_cured in (True, False):
                chance_drum = (
                    (0.9 if drum_cured else 0.1) if DRUM in second else float(not drum_cured)
                )
                last = second - {DRUM} if drum_cured else second
                passed = misses if last else 1 - alarms
                joint[i] += (
                    account.prior[i] * account.heard[i] * shows("push", start) * chance_dampers
                    * failed * shows("turn", second) * chance_drum * passed
                    * (1.0 if DRUM in start else 0.35)
                )  # fmt: skip
    assert account.belief() == pytest.approx(joint / joint.sum(), abs=1e-9)
    # and what the second repair cured, given all that came of it
    cure = account.cures[1]
    assert cure.repair == "new_bearing"
    assert 0.9 < cure.cured[DRUM] <= cure.there[DRUM] + 1e-9 <= 1.0


def test_a_fault_that_comes_twice_as_often_is_learned() -> None:
    jobs = workshop_of(30, 18, 12)
    learned = learned_of(jobs)
    assert learned.settled
    # 40 machines' worth of 0.25, and 30 of 60
    assert here(learned, f"faults.{DAMPERS}.prior") == pytest.approx((10 + 30) / 100, abs=0.03)
    figure = next(f for f in learned.figures if f.place == f"faults.{DAMPERS}.prior")
    assert figure.low < figure.here < figure.high
    assert len(figure.jobs) == 30
    assert figure.of == 60


def test_a_machine_scrapped_unseen_is_not_sound_and_a_check_not_done_is_no_pass() -> None:
    jobs = workshop_of(12, 12, 6)
    unseen = [job_of(100 + n, Closed("scrap")) for n in range(30)]
    before, after = learned_of(jobs), learned_of(jobs + unseen)
    for name in (DAMPERS, DRUM, FEET):
        place = f"faults.{name}.prior"
        # an owner's word alone teaches nothing, whatever it would be taken for
        assert here(after, place) == here(before, place)
    assert (after.jobs, before.jobs) == (30, 30)
    rows = [f.place for f in learned_of([*jobs, *unseen]).figures if ".push." in f.place]
    counted = next(f for f in after.figures if f.place == rows[0])
    assert not set(counted.jobs) & {job.number for job in unseen}


def test_a_check_that_misses_here_is_learned_to_miss() -> None:
    # the dampers were worn, and the push showed nothing, six times in ten
    jobs = [
        job_of(
            n, Finding("push", "bad" if n % 5 < 2 else "good"), RepairDone("set_of_dampers"),
            Proof(passed=True), Closed("repair_resell", (DAMPERS,), 12_000),
        )
        for n in range(1, 41)
    ]  # fmt: skip
    learned = learned_of(jobs)
    assert here(learned, f"checks.push.under.{DAMPERS}.bad") == pytest.approx(
        (20 * 0.9 + 16) / 60, abs=0.03
    )


def test_a_repair_that_often_fails_its_proof_is_learned() -> None:
    def job(n: int) -> Job:
        seen = Finding("turn", "bad")
        first = () if n % 2 else (RepairDone("new_bearing"), Proof(passed=False))
        ending = Closed("repair_resell", (DRUM,), 12_000)
        return job_of(n, seen, *first, RepairDone("new_bearing"), Proof(passed=True), ending)

    learned = learned_of([job(n) for n in range(1, 41)])
    # 40 that held and 20 that did not, beside 20 jobs' worth of 0.9
    assert here(learned, f"repairs.new_bearing.cures.{DRUM}") == pytest.approx(0.725, abs=0.04)


def test_minutes_prices_and_days() -> None:
    learned = learned_of([mended(n, DAMPERS, minutes=18.0) for n in range(1, 21)])
    assert here(learned, "checks.push.minutes") == pytest.approx(12 * 1.45, rel=0.05)
    # what was never timed goes by the hand
    assert 12.0 < here(learned, "checks.turn.minutes") < here(learned, "checks.push.minutes")
    expected = 30000 * 0.9**6
    assert here(learned, "money.resale_new_minor") == pytest.approx(
        30000 * (8 + 20 * 12_000 / expected) / 28, rel=1e-3
    )
    # sold on the day they were done
    assert here(learned, "money.days_to_sell") < 5.0


def test_a_few_jobs_teach_nothing() -> None:
    learned = learned_of(workshop_of(3, 3, 3))
    assert not learned.figures
    assert learned_family(FAMILY, learned.figures) is FAMILY


def test_a_comeback_takes_the_label_back_until_it_is_closed_anew() -> None:
    back = mended(1, DAMPERS)
    last = back.entries[-1]
    comeback = Retraction(last.number, comeback=True)
    open_again = job_of(1, *(e.body for e in back.entries[1:]), comeback)
    assert facts_of_jobs(FAMILY, SETTINGS, [open_again]) == []
    closed = job_of(
        1, *(e.body for e in open_again.entries[1:]), Finding("turn", "bad"),
        Closed("scrap", (DRUM,)),
    )  # fmt: skip
    assert chance(closed, DRUM) > 0.95


def test_a_trade_that_changed_is_foretold_better_where_old_jobs_fade() -> None:
    # eight days from one to the next: bearings for a year and a half, dampers for two
    changed = [mended(8 * n, DRUM if n <= 60 else DAMPERS) for n in range(1, 151)]
    mixed = [mended(8 * n, DAMPERS if n % 3 else DRUM) for n in range(1, 151)]
    of_changed, of_mixed = (
        judge(FAMILY, facts_of_jobs(FAMILY, SETTINGS, jobs)) for jobs in (changed, mixed)
    )
    assert of_changed.half_life == 365.0
    assert not of_mixed.too_few_to_fade
    assert of_mixed.half_life is None
    few = judge(FAMILY, facts_of_jobs(FAMILY, SETTINGS, changed[:69]))
    assert few.too_few_to_fade
    assert few.half_life is None


def test_the_learned_family_says_of_each_figure_what_it_was() -> None:
    learned = learned_of(workshop_of(30, 18, 12))
    family = learned_family(FAMILY, learned.figures)
    assert family.digest.startswith(f"{FAMILY.digest}+")
    assert family.faults[DAMPERS].prior == pytest.approx(
        here(learned, f"faults.{DAMPERS}.prior"), rel=1e-3
    )
    texts = {change.place: change.text for change in family.changes}
    assert texts[f"faults.{DAMPERS}.prior"].startswith("25 % by the catalog, ")
    assert texts[f"faults.{DAMPERS}.prior"].endswith(" after your 60 jobs")
    # every figure in it says so, and no other moved
    for name, entry in FAMILY.checks.items():
        moved = family.checks[name].minutes != entry.minutes
        assert moved == (f"checks.{name}.minutes" in texts)
    # the same jobs, the same family
    again = learned_family(FAMILY, learned_of(workshop_of(30, 18, 12)).figures)
    assert again.digest == family.digest
    assert (
        learned_family(FAMILY, learned_of(workshop_of(29, 19, 12)).figures).digest != again.digest
    )
