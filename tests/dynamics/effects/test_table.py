"""The table of what each fault changes: fresh, whole, spun again in part, and the only source of claims."""

import json
import re
from pathlib import Path

import pytest

from counterpoise.dynamics import FAULTS, build
from counterpoise.dynamics.answers.changes import changes
from counterpoise.dynamics.answers.summary import study_spin
from counterpoise.dynamics.answers.what_if import WhatIf, run_cases
from counterpoise.dynamics.effects import physics_digest, table
from counterpoise.dynamics.effects.drawing import drawn, faulty, measured
from counterpoise.dynamics.effects.expected import EXPECTED
from counterpoise.dynamics.effects.quantities import QUANTITIES
from counterpoise.dynamics.effects.states import LOADS, STATES, fault_key
from counterpoise.dynamics.effects.table import (
    LEAST_SHARE,
    claims,
    fault_table,
    rows_by_load,
    showing_load,
)
from counterpoise.dynamics.effects.tabulate import compact, row, rows_of
from counterpoise.dynamics.effects.written import written
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.dynamics.machines.faults import applies

DOCS = Path(__file__).parents[3] / "docs"


def test_the_table_is_of_the_physics_as_it_stands():
    assert fault_table()["physics"] == physics_digest.physics_digest(), (
        "the physics changed: run python -m counterpoise.dynamics.effects.tabulate"
    )


def test_the_digest_heeds_figures_and_not_words():
    one = '"""Doc."""\nX = 2.0  # why\n\n\ndef f(a):\n    """Twice."""\n    return g(a, "two words")\n'
    same = 'X = 2.0\ndef f(a):\n    return g(a, "other words")\n'
    assert physics_digest.bare(one) == physics_digest.bare(same)
    assert physics_digest.bare(one) != physics_digest.bare(one.replace("2.0", "2.1"))


@pytest.mark.parametrize("family", FAMILIES)
def test_every_fault_that_a_machine_can_have_is_tabulated_under_every_load(family):
    rows = fault_table()[family]["rows"]
    assert {fault_key(state) for state in rows} == {k for k in FAULTS if applies(build(family), k)}
    assert fault_table()[family]["drawn"] >= 200
    for state, loads in rows.items():
        assert set(loads) == set(LOADS), state
        for load in loads.values():
            assert load.keys() == QUANTITIES.keys() | {"n"}
            # shares are rounded to three digits
            assert all(0.0 <= load[q][0] + load[q][1] <= 1.001 for q in QUANTITIES)


# of those that do not knock: where something knocks each blow decides the next
CALM = ("sound", "damper_weak", "spring_tired", "overload")


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("number", ["0"])
def test_machines_spun_again_give_the_figures_of_the_table(family, number):
    kept = fault_table()[family]["samples"][number]
    case = drawn(family, int(number))
    for state in CALM:
        again = measured(case.machine if state == "sound" else faulty(case, state))
        for quantity in ("pass_mm", "travel_mm", "shake_m_s2", "floor_n", "low_mm"):
            assert again[quantity] == pytest.approx(kept[state][quantity], rel=0.02, abs=0.02)


def test_a_row_is_shares_and_medians():
    pairs = [(10.0, 20.0), (10.0, 9.0), (10.0, 10.1), (10.0, 30.0)]
    assert row(pairs, 0.1) == pytest.approx([0.5, 0.25, 1.5, 10.0, 15.0], rel=0.01)
    assert row([(0.0, 5.0), (0.0, 0.0)], 0.1) == [0.5, 0.0, 0.0, 0.0, 2.5]


def test_machines_that_broke_off_are_counted_and_those_without_a_figure_left_out():
    figures = dict.fromkeys(QUANTITIES, 1.0)
    sound, broke = figures | {"complete": 1.0}, figures | {"complete": 0.0}
    one = {"sound": sound, "overload": broke, "spring_off": None}
    rows = rows_of([("spread", one), ("spread", one)])
    assert rows["overload"]["spread"]["n"] == [2.0, 2.0]
    assert "spring_off" not in rows


def test_the_file_is_written_so_that_it_reads_back():
    assert json.loads(compact({"physics": "x", "a": {"rows": {"s": {"l": {"n": [1.0, 0.0]}}}}})) == {
        "physics": "x", "a": {"rows": {"s": {"l": {"n": [1.0, 0.0]}}}},
    }  # fmt: skip


@pytest.fixture
def made_up(monkeypatch):
    """A table in which a share can be set."""

    def with_share(share, machines=70.0):
        rows = {q: [share, 0.0, 1.5, 10.0, 15.0] for q in QUANTITIES}
        loads = {load: rows | {"n": [machines, 0.0]} for load in LOADS}
        made = {"front_loader": {"rows": {"damper_weak": loads}}}
        monkeypatch.setattr(table, "fault_table", lambda: made)

    return with_share


def test_below_eighty_of_a_hundred_nothing_is_claimed(made_up):
    made_up(0.81)
    assert [c.quantity for c in claims("front_loader", "damper_weak", "heavy", 2)] == ["pass_mm"]
    made_up(0.79)
    assert claims("front_loader", "damper_weak", "heavy", 2) == ()
    assert showing_load("front_loader", "damper_weak", 2) is None
    sound = study_spin(build("front_loader").with_unbalance(0.3, laundry=False))
    told = changes("damper_weak", sound, sound)
    assert told.startswith("Nothing is claimed")
    assert "times" not in told


def test_a_handful_of_machines_bears_nothing_out(made_up):
    made_up(1.0, machines=20.0)
    assert claims("front_loader", "damper_weak", "heavy", 2) == ()


@pytest.mark.parametrize("family", FAMILIES)
def test_nothing_is_claimed_that_the_table_does_not_bear_out(family):
    for state in STATES:
        for load in LOADS:
            for claim in claims(family, state, load, 3):
                above, below = rows_by_load(family, state, 3)[load][claim.quantity][:2]
                assert (above if claim.direction > 0 else below) >= LEAST_SHARE
                assert EXPECTED[fault_key(state)][claim.quantity] == claim.direction


def test_one_dead_damper_shows_where_it_is_half_of_all():
    assert showing_load("front_loader", "damper_dead", 2) == "spread"
    assert showing_load("front_loader", "damper_dead", 4) is None
    two, four = (claims("front_loader", "damper_dead", "spread", many) for many in (2, 4))
    assert [c.quantity for c in two] == ["pass_mm"]
    assert four == ()
    # a count that was not drawn has the row over all
    rows = fault_table()["front_loader"]["rows"]
    assert rows_by_load("front_loader", "damper_dead", 5) == rows["damper_dead"]


def test_two_faults_at_once_and_a_severity_between_rows_are_not_claimed():
    for state in ("damper_weak+short_foot", "short_foot:0.5", "damper_weak:0.1"):
        assert showing_load("front_loader", state, 2) is None


@pytest.mark.parametrize("state", ["damper_weak", "counterweight_loose", "short_foot"])
def test_what_a_page_says_is_of_the_table_and_of_the_load_that_shows_it(state):
    load = showing_load("front_loader", state, 2)
    case = run_cases(WhatIf(unbalance_kg=LOADS[load].shown_kg, faults=(state,)))
    told = changes(state, case[0].study, case[1].study)
    said = {claim.quantity for claim in claims("front_loader", state, load, 2)}
    for name, quantity in QUANTITIES.items():
        assert (quantity.words in told) is (name in said), name
    shares = [int(share) for share in re.findall(r"in (\d+) of 100\b", told)]
    assert shares
    assert min(shares) >= 80


def test_a_load_that_does_not_show_it_names_one_that_does():
    hidden = [
        (state, load)
        for state in STATES
        for load in LOADS
        if showing_load("front_loader", state, 2) and not claims("front_loader", state, load, 2)
    ]
    assert hidden
    state, load = hidden[0]
    cases = run_cases(WhatIf(unbalance_kg=LOADS[load].shown_kg, faults=(state,)))
    told = changes(state, cases[0].study, cases[1].study)
    assert "does not show reliably" in told
    assert f"about {LOADS[showing_load('front_loader', state, 2)].shown_kg:g} kg" in told


def test_the_page_of_the_table_is_written_from_the_table():
    assert (DOCS / "fault-table.md").read_text("utf-8") == written()
