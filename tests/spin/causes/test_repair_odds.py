"""Whether a repair held, by what two recordings say of the causes."""

from pathlib import Path

import numpy as np
import pytest
from benchmarks.proof_pairs import JudgedPair, reliability_text, table, thresholds

from counterpoise.spin.causes.groups import GROUPS, PRIOR
from counterpoise.spin.causes.posterior import group_probabilities
from counterpoise.spin.causes.repair_odds import repair_log_odds
from counterpoise.spin.proof import CANNOT_TELL, FAILS_AT, NOT_YET, PASS, PASSES_AT

NOTHING = np.array([PRIOR[group] for group in GROUPS])
PAIRS = Path(__file__).parents[1] / "training" / "proof_pairs.npz"


def surely(group, share=0.9):
    p = np.full(len(GROUPS), (1 - share) / (len(GROUPS) - 1))
    p[GROUPS.index(group)] = share
    return p


def test_recordings_that_say_nothing_leave_even_odds():
    assert repair_log_odds(NOTHING, NOTHING) == pytest.approx(0)


@pytest.mark.parametrize("fault", ["rattle", "short_foot", "drum_support", "transit_bolts"])
def test_a_fault_seen_and_gone_passes_and_one_still_seen_does_not(fault):
    gone = repair_log_odds(surely(fault), surely("nothing_found"))
    assert gone > PASSES_AT
    assert repair_log_odds(surely(fault), surely(fault)) < FAILS_AT
    # Of a machine that showed nothing before, the same second recording proves far less.
    assert repair_log_odds(surely("nothing_found"), surely("nothing_found")) < PASSES_AT < gone


def test_another_fault_after_the_repair_is_held_against_it():
    assert repair_log_odds(surely("transit_bolts"), surely("short_foot")) < FAILS_AT


def test_the_surer_the_second_recording_the_surer_the_proof():
    odds = [repair_log_odds(surely("rattle"), surely("nothing_found", x)) for x in (0.4, 0.6, 0.9)]
    assert odds == sorted(odds)


@pytest.fixture(scope="module")
def kept():
    """Log odds of sixty rehearsed pairs that set no threshold, and whether each repair held."""
    with np.load(PAIRS) as stored:
        names = [str(name) for name in stored["names"]]
        both = zip(stored["before"].astype(float), stored["after"].astype(float), strict=True)
        odds = [
            repair_log_odds(
                *(group_probabilities(dict(zip(names, row, strict=True))) for row in rows)
            )
            for rows in both
        ]
        return np.array(odds), stored["left"] == ""


def test_rehearsed_repairs_that_did_not_hold_seldom_pass(kept):
    odds, held = kept
    assert len(odds) >= 55
    assert np.mean(odds[~held] >= PASSES_AT) < 0.25
    assert np.mean(odds[held] <= FAILS_AT) < 0.25
    assert np.mean(odds[held] >= PASSES_AT) > 0.2
    assert np.mean(odds[~held] <= FAILS_AT) > 0.3


def test_the_odds_are_worth_their_word(kept):
    odds, held = kept
    said = 1 / (1 + np.exp(-odds))
    gained = np.mean(np.log2(np.where(held, said, 1 - said) / 0.5))
    assert gained > 0.05
    assert np.mean(held[said > 0.6]) > np.mean(held[said < 0.4]) + 0.3


def test_the_benchmark_counts_and_sets_as_it_says():
    pairs = [
        JudgedPair(1, "repaired", "rattle", "", PASS, 6.0),
        JudgedPair(2, "repaired", "rattle", "", CANNOT_TELL, None),
        JudgedPair(3, "spoiled", "rattle", "short_foot", NOT_YET, 0.1),
        JudgedPair(4, "not repaired", "rattle", "rattle", PASS, 4.0),
    ]
    text = table(pairs)
    assert "| in order | 2 | 50 ± 35 % | 0 ± 0 % | 50 ± 35 % |" in text
    assert "| with a fault | 2 | 50 ± 35 % | 50 ± 35 % | 0 ± 0 % |" in text
    assert "| left: short_foot | 1 |" in text
    assert "bits" in reliability_text(pairs)
    passes, fails = thresholds(pairs)
    assert (passes, fails) == pytest.approx((np.log(4.0), np.log(6.0)))
