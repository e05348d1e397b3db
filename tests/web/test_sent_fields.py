"""What can be sent: the fields of the entries, their limits, and nothing else."""

import pytest
from pydantic import ValidationError

from counterpoise.web.schemas import (
    CloseIn,
    DecisionIn,
    FindingIn,
    FitIn,
    IntakeIn,
    NoteIn,
    ProofIn,
    RecordingIn,
    RepairIn,
    RetractionIn,
    Sent,
    Taking,
)
from counterpoise.workshop.jobs.entries import Intake

ENTRIES = [FindingIn, RepairIn, ProofIn, DecisionIn, CloseIn, NoteIn, RetractionIn, IntakeIn]


@pytest.mark.parametrize("model", ENTRIES)
def test_a_field_nobody_knows_is_refused(model):
    with pytest.raises(ValidationError, match="Extra inputs are not permitted"):
        model(no_such_field=1)


def test_who_says_nothing_is_the_bench():
    assert Sent().hand == "bench"
    assert Sent(by="Ada").hand == "Ada"
    assert Sent().expected_last is None


@pytest.mark.parametrize("last", [-1, 10**9 + 1, 1.5, "soon"])
def test_the_last_entry_seen_is_a_number_of_ours(last):
    with pytest.raises(ValidationError):
        Sent(expected_last=last)


def test_one_customers_features_do_not_reach_the_next():
    first = IntakeIn(family="bench", owner="customer", title="x", complaints=("shakes",))
    first.features["drive"] = "belt"
    second = IntakeIn(family="bench", owner="customer", title="y", complaints=("shakes",))
    assert second.features == {}
    assert isinstance(second.intake(), Intake)


@pytest.mark.parametrize("lot", [0, -3, 2**31, 1.5])
def test_a_lot_is_a_number_the_store_can_hold(lot):
    with pytest.raises(ValidationError):
        Taking(lot=lot, count=1)


@pytest.mark.parametrize("count", [0, 1001])
def test_pieces_taken_are_at_least_one(count):
    with pytest.raises(ValidationError):
        Taking(lot=1, count=count)


@pytest.mark.parametrize("role", ["", "during", "BEFORE"])
def test_a_recording_is_from_before_after_or_sound(role):
    with pytest.raises(ValidationError):
        RecordingIn(role=role)


def test_a_recording_needs_its_role_and_nothing_else():
    with pytest.raises(ValidationError):
        RecordingIn()
    sent = RecordingIn(role="after")
    assert (sent.top_rpm, sent.minutes, sent.note) == (None, None, "")


@pytest.mark.parametrize(
    "told", [{"load_kg": -1}, {"load_kg": 15}, {"unbalance_kg": 0}, {"unbalance_kg": 4},
             {"load_kg": float("nan")}, {"free": ["x"] * 13}]
)  # fmt: skip
def test_a_fit_starts_from_what_a_drum_can_hold(told):
    with pytest.raises(ValidationError):
        FitIn(**told)
