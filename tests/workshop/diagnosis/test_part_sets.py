"""A set's rule on real jobs: planner, step, estimate and quote obey it, and say the same words."""

import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.billing.quote import quote_of
from counterpoise.workshop.billing.work import best_repair
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.part_sets import set_word
from counterpoise.workshop.diagnosis.problem import build_problem, can_be_done
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job, RepairDone
from counterpoise.workshop.jobs.settings import Settings

AT = "2026-01-01T00:00:00Z"
SETTINGS = Settings()
SETS = [(name, key) for name in families() for key in load_family(name).sets]
CONDEMNED = [
    (name, key, check, outcome)
    for name, key in SETS
    for check, outcomes in load_family(name).sets[key].condemns.items()
    for outcome in outcomes
]
ALONE = [(name, key) for name, key in SETS if load_family(name).sets[key].alone]


def case(name, *bodies, age=8.0, features=None):
    intake = Intake(name, "customer", "a set", ("shakes",), age_years=age, features=features or {})
    entries = (Entry(i + 1, AT, "", body) for i, body in enumerate((intake, *bodies)))
    return JobCase(Job(1, tuple(entries)), load_family(name), SETTINGS)


def offered(case):
    return {repair.id for repair in build_problem(case.situation, SETTINGS).repairs}


def needs(name, key):
    return dict(load_family(name).sets[key].needs)


@pytest.mark.parametrize(("name", "key", "check", "outcome"), CONDEMNED)
def test_a_set_that_is_condemned_is_renewed_whole_everywhere(name, key, check, outcome):
    part_set, family = load_family(name).sets[key], load_family(name)
    job = case(name, Finding(check, outcome), features=needs(name, key))
    for repair in part_set.put_back:
        entry = family.repairs[repair]
        # the planner does not offer it, and no fault is costed with it
        assert repair not in offered(job)
        assert not can_be_done(entry, job.situation, SETTINGS)
        for fault in family.faults.values():
            best = best_repair(job.situation, job.prices, fault)
            assert best is None or best.id != repair
        # asked for by hand, the estimate is that of the set, and says why
        costing = cost(job, [repair])
        assert [work.id for work in costing.repairs] == [part_set.renew[0]]
        word = family.checks[check].outcomes[outcome]
        assert any(
            word in line.detail for line in costing.estimate.lines if line.id in part_set.parts
        )
        # and so does the customer's quote
        assert any(
            word in line for line in quote_of(job, assess(job, Effort(growths=0)), costing).work
        )
        # picked by hand, the step says that it is not the one, and the set's own step says why
        steps = StepBuilder.of(job.situation)
        assert steps.repair(entry).steps[0].startswith(f"Not this, but {part_set.title}")
        assert word in steps.repair(family.repairs[part_set.renew[0]]).steps[0]


@pytest.mark.parametrize(("name", "key"), SETS)
def test_a_piece_that_nothing_condemns_may_go_back_and_is_tried_before_and_after(name, key):
    part_set, family = load_family(name).sets[key], load_family(name)
    job = case(name, age=2.0, features=needs(name, key))
    for repair in part_set.put_back:
        assert repair in offered(job)
        assert [work.id for work in cost(job, [repair]).repairs] == [repair]
        assert (
            part_set.try_it in StepBuilder.of(job.situation).repair(family.repairs[repair]).steps[0]
        )


@pytest.mark.parametrize(("name", "key"), ALONE)
def test_one_piece_alone_only_among_young_ones_or_good_ones_and_it_says_so(name, key):
    part_set, family, features = load_family(name).sets[key], load_family(name), needs(name, key)
    (repair,) = part_set.alone
    entry = family.repairs[repair]
    young = part_set.young_years
    (check, (outcome, *_)) = next(iter(part_set.others_good.items()))
    (check_all, (several, *_)) = next(iter(part_set.several.items()))
    tried = case(name, Finding(check, outcome), features=features)
    allowed = {
        "the others are young": case(name, age=young, features=features),
        "the others were measured and are good": tried,
    }
    for words, job in allowed.items():
        assert repair in offered(job)
        assert words in StepBuilder.of(job.situation).repair(entry).steps[0]
        costing = cost(job, [repair])
        assert [work.id for work in costing.repairs] == [repair]
        assert any(words in line.detail for line in costing.estimate.lines)
    refused = [
        case(name, age=young + 1, features=features),
        # of unknown age nothing is known to be young
        case(name, age=None, features=features),
        case(name, Finding(check_all, several), age=0.5, features=features),
    ]
    for job in refused:
        assert repair not in offered(job)
        assert [work.id for work in cost(job, [repair]).repairs] == [part_set.renew[0]]
        assert "Not this, but" in StepBuilder.of(job.situation).repair(entry).steps[0]


WORN_OUT = [
    ("front_loader", "dampers", {"push_tub_bounces": "swings_on", "ask_since_when": "crept_up"}),
    ("top_loader", "rods", {"push_basket_bounces": "swings_on", "ask_since_when": "crept_up"}),
]


@pytest.mark.parametrize(("name", "key", "findings"), WORN_OUT)
def test_a_set_that_most_likely_wore_out_is_renewed_whole_without_a_look(name, key, findings):
    part_set, family = load_family(name).sets[key], load_family(name)
    bodies = [Finding(check, outcome) for check, outcome in findings.items()]
    job = case(name, *bodies, age=10.0, features=needs(name, key))
    by_key = job.situation.model.key_chances(job.situation.probabilities)
    assert sum(by_key[worn] for worn in part_set.worn) > 0.5
    for repair in part_set.put_back:
        word = set_word(job.situation, family.repairs[repair])
        assert (word.allowed, word.instead) == (False, part_set.renew[0])
        assert "is likely" in word.note


def test_a_piece_that_was_put_back_stays_on_the_bill_as_it_was():
    job = case(
        "front_loader", RepairDone("reseat_damper", 14), Finding("push_dampers", "one_slack")
    )
    assert [work.id for work in cost(job, ["reseat_damper"]).repairs] == ["reseat_damper"]


def test_a_repair_of_no_set_is_said_nothing_of():
    job = case("front_loader")
    assert set_word(job.situation, job.family.repairs["level_feet"]) is None


OTHERS = [(name, key) for name, key in SETS if load_family(name).sets[key].others_good]


@pytest.mark.parametrize(("name", "key"), OTHERS)
def test_the_others_of_a_set_are_measured_once_one_was_found_bad(name, key):
    part_set, family = load_family(name).sets[key], load_family(name)
    has = needs(name, key)

    def may_measure(*findings):
        job = case(name, *findings, features=has)
        return [
            can_be_done(family.checks[c], job.situation, SETTINGS) for c in part_set.others_good
        ]

    assert not any(may_measure())
    for check in part_set.condemns.keys() - part_set.others_good.keys():
        good, *worse = family.checks[check].outcomes
        assert not any(may_measure(Finding(check, good)))
        assert all(all(may_measure(Finding(check, outcome))) for outcome in worse)
