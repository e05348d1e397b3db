"""Kinds and sets of faults as the planner's rows: nothing lost, closed, and no plan made worse."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from tests.workshop.diagnosis.kinds.enumeration import enumerated, shown
from tests.workshop.diagnosis.kinds.small_machines import FAMILY
from tests.workshop.diagnosis.kinds.test_belief_over_kinds import job, now

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.belief import transition_of
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.workshop.diagnosis.family_model import MAX_FAULTS
from counterpoise.workshop.diagnosis.kinds.layout import layout_of
from counterpoise.workshop.diagnosis.kinds.rows import all_rows, likely_rows
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import NOT_THERE, Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings

FRONT = load_family("front_loader")


def rows_of(situation):
    return all_rows(situation.model, situation.kinds, situation.joint)


def front(**features):
    intake = Intake("front_loader", "customer", "x", ("rumbles",), 8.0, features)
    return replay(FRONT, Settings(), Job(1, (Entry(1, "2026-03-01T09:00:00Z", "", intake),)))


@pytest.mark.parametrize(
    "situation", [now(), now(Finding("turn", "bad")), front(), front(drive="belt")]
)
def test_every_pair_of_kind_and_set_is_in_one_row_and_nothing_is_lost(situation):
    rows = rows_of(situation)
    assert rows.prior.sum() == pytest.approx(1.0)
    assert rows.share.sum(axis=0) == pytest.approx(np.ones(len(rows.base)))
    # back from the rows to the belief: kinds that are one row are alike only in what is decided
    back = np.zeros_like(situation.joint)
    np.add.at(back.T, rows.base, (rows.share * rows.prior).T)
    assert back == pytest.approx(situation.joint, abs=1e-15)
    assert rows.mass(situation.joint) == pytest.approx(rows.prior)
    assert rows.hypotheses.sets[0] == ()
    assert len(set(rows.hypotheses.sets)) == len(rows.base)


def test_a_machine_of_which_all_is_known_is_planned_for_as_it_was():
    situation = front(drive="belt", motor="brushed", tub="bolted")
    rows = rows_of(situation)
    assert rows.hypotheses is situation.model.hypotheses
    assert rows.prior.tolist() == situation.probabilities.tolist()
    problem = build_problem(situation, Settings())
    smaller, dropped = problem.narrowed(0.004, 100)
    likely, left_out = likely_rows(
        situation.model, situation.kinds, situation.joint, share_dropped=0.004, most=100
    )
    assert likely.hypotheses.sets == smaller.hypotheses.sets
    assert likely.prior == pytest.approx(smaller.prior)
    assert left_out == pytest.approx(dropped.sum())


@pytest.mark.parametrize("situation", [now(Finding("turn", "bad")), front(), front(drive="direct")])
def test_likely_rows_lead_only_to_rows_and_repairs_move_them_as_their_faults_say(situation):
    rows, dropped = likely_rows(
        situation.model, situation.kinds, situation.joint, share_dropped=0.01, most=120
    )
    assert 0.0 <= dropped < 0.6
    assert rows.prior.sum() == pytest.approx(1.0)
    known = set(rows.hypotheses.sets)
    for faults in rows.hypotheses.sets:
        assert all(faults[:m] + faults[m + 1 :] in known for m in range(len(faults)))
    for entry in situation.family.repairs.values():
        plain = transition_of(rows.repair(entry), rows.hypotheses)
        moved = rows.transition(entry)
        assert set(zip(moved.source, moved.target, moved.chance.round(12), strict=True)) == set(
            zip(plain.source, plain.target, plain.chance.round(12), strict=True)
        )
        assert (np.diff(moved.source) >= 0).all()


def test_faults_are_told_apart_where_another_repair_cures_them_and_only_there():
    layout = layout_of(front().model, front().kinds)
    model, kinds = layout.model.hypotheses, layout.kinds.machines
    tub = np.array([machine["tub"] for machine in kinds])
    bearing = layout.label[model.fault_ids.index("bearing_worn:gone")]
    assert len(set(bearing[tub == "bolted"])) == len(set(bearing[tub == "welded"])) == 1
    assert bearing[tub == "bolted"][0] != bearing[tub == "welded"][0]
    dampers = layout.label[model.fault_ids.index("damper_worn:gone")]
    assert len(set(dampers)) == 1
    belt = layout.label[model.fault_ids.index("belt_worn")]
    assert {machine["drive"] for machine, label in zip(kinds, belt, strict=True) if label >= 0} == {
        "belt"
    }


@pytest.mark.parametrize("situation", [now(), now(Finding("look_tub", "steel")), front()])
def test_outcomes_of_every_check_are_all_there_is_and_those_of_the_kinds_in_the_row(situation):
    rows = rows_of(situation)
    for entry in situation.family.checks.values():
        table, check = rows.table(entry), rows.check(entry)
        assert len(table) == len(check.outcomes)
        assert table.sum(axis=0) == pytest.approx(np.ones(len(rows.base)), abs=1e-12)
        assert (table >= 0).all()


class Native:
    """The best plan by trying everything, over kinds and sets of faults as they are: no rows."""

    def __init__(self, family, problem):
        self.family, self.problem, self.known = family, problem, {}

    def best(self, belief, done, tried):
        key = frozenset((state, round(p, 11)) for state, p in belief.items()), done, tried
        if key not in self.known:
            self.known[key] = max(
                [
                    *self.problem.ending_values.max(axis=1).tolist(),
                    *(self.look(belief, c, done, tried) for c in self.problem.checks if c.id not in done),
                    *(self.mend(belief, r, done, tried) for r in self.problem.repairs if r.id not in tried),
                ]
            )  # fmt: skip
        return self.known[key]

    def look(self, belief, check, done, tried):
        entry, value = self.family.checks[check.id], -check.cost
        for outcome in [*entry.outcomes, *([NOT_THERE] if entry.needs else [])]:
            joint = {
                state: p * shown(self.family, *state, Finding(check.id, outcome))
                for state, p in belief.items()
            }
            mass = sum(joint.values())
            if mass > 1e-12:
                after = {state: p / mass for state, p in joint.items()}
                value += mass * self.best(after, done | {check.id}, tried)
        return value

    def mend(self, belief, repair, done, tried):
        entry, retest = self.family.repairs[repair.id], self.problem.retest
        value, left = -repair.cost - retest.cost, {}
        for (machine, faults), p in belief.items():
            fits = all(dict(machine)[name] == wanted for name, wanted in entry.needs.items())
            touched = [f for f in faults if fits and entry.cures.get(f, 0.0) > 0.0]
            for flags in product((True, False), repeat=len(touched)):
                chance, rest = p, set(faults)
                for fault, cured in zip(touched, flags, strict=True):
                    chance *= entry.cures[fault] if cured else 1.0 - entry.cures[fault]
                    rest -= {fault} if cured else set()
                if not rest:
                    value += chance * self.problem.working
                    continue
                value += chance * retest.misses * (self.problem.working - retest.comeback)
                state = machine, frozenset(rest)
                left[state] = left.get(state, 0.0) + chance * (1.0 - retest.misses)
        mass = sum(left.values())
        if mass > 1e-12:
            after = {state: p / mass for state, p in left.items()}
            value += mass * self.best(after, done, tried | {repair.id})
        return value


def planned(checks, *bodies, cheap_tub=False):
    """(value of the best plan over rows, value over kinds and sets as they are)."""
    family = replace(FAMILY, checks={name: FAMILY.checks[name] for name in checks})
    if cheap_tub:
        repairs = {**family.repairs, "new_tub": replace(family.repairs["new_tub"], minutes=65)}
        family = replace(family, repairs=repairs)
    at = job(*bodies)
    situation = replay(family, Settings(), at)
    problem = build_problem(situation, Settings())
    native = Native(family, problem).best(enumerated(family, 6.0, at), frozenset(), frozenset())
    return solve_exactly(problem).lower, native


@pytest.mark.parametrize("cheap_tub", [False, True])
@pytest.mark.parametrize(
    "checks", [("look_tub",), ("turn", "look_tub"), ("turn",), ("turn", "look_drive")]
)
def test_a_plan_over_rows_is_as_good_as_one_over_every_kind(checks, cheap_tub):
    """Merged kinds lose nothing where each feature is told by one check."""
    over_rows, native = planned(checks, cheap_tub=cheap_tub)
    assert over_rows == pytest.approx(native, rel=1e-8)


def test_where_two_checks_tell_one_feature_a_plan_over_merged_kinds_errs_little():
    """In a row of several kinds the second check of a feature is taken as news: 0.5 % here."""
    over_rows, native = planned(("turn", "look_tub", "see_seam"))
    assert over_rows == pytest.approx(native, rel=1e-2)


def test_the_family_s_three_faults_at_once_hold_for_kinds_too():
    assert max(len(faults) for faults in rows_of(now()).hypotheses.sets) == min(MAX_FAULTS, 3)
