"""A reading as plain data for JSON, reports and pages."""

from typing import NotRequired, TypedDict

import numpy as np

from counterpoise.spin.account import said
from counterpoise.spin.audio.sound_data import SoundData
from counterpoise.spin.causes.verdict import Verdict
from counterpoise.spin.features.orders import ORDERS
from counterpoise.spin.features.resonance import find_resonances
from counterpoise.spin.features.signature import levels
from counterpoise.spin.proof import Proof
from counterpoise.spin.reading import Reading
from counterpoise.spin.recording import Floats, NoteData, notes_data

AXES = ("side", "front", "up")
# A machine that knocks all the time would fill the answer; per_second tells the rest.
MOST_KNOCKS = 500
# Bins of a standing line lie closer than this; lines of two tones do not.
LINE_GAP_HZ = 0.6
# By axis, m/s2; None where an order cannot be claimed.
AxisLevels = dict[str, float | None]


class PlateauData(TypedDict):
    """A stretch of steady speed, s and rpm."""

    start_s: float
    end_s: float
    rpm: float


class PhaseData(TypedDict):
    """A stretch of one phase of the spin, s."""

    phase: str
    start_s: float
    end_s: float


class ResonanceData(TypedDict):
    """A resonance passed through; ``damping`` is None where it is too wide to say."""

    axis: str
    rpm: int
    level_ms2: float | None
    damping: float | None


class KnocksData(TypedDict):
    """Knocks at low speed; ``per_turn`` is None where the drum was not followed."""

    times_s: list[float]
    per_second: float
    per_turn: float | None


class RecordingData(TypedDict):
    """The recording itself; ``clipped_fraction`` is a share of 1."""

    duration_s: float
    rate_hz: float
    step_ms2: float | None
    has_gravity: bool
    clipped_fraction: float


# Names are those of the JSON: programs outside read them, so none may change.
class ReadingData(TypedDict):
    """A reading and its verdict as JSON; ``speed`` holds [s, rpm] pairs."""

    speed: list[list[float]]
    plateaus: list[PlateauData]
    plateau_confidence: list[float]
    not_followed_s: list[list[float]]
    groups: dict[str, float]
    likelihood: dict[str, float]
    cannot_tell: bool
    reason: str
    sentence: str
    with_baseline: bool
    baseline_left_out: str
    can_tell_bits: float
    tell_more: str
    top_rpm: float
    attempts: int
    given_up: int
    phases: list[PhaseData]
    orders: list[dict[str, float | AxisLevels]]
    resonances: list[ResonanceData]
    knocks: KnocksData
    lines_hz: list[float]
    recording: RecordingData
    notes: list[NoteData]
    sound: NotRequired[SoundData]


class ComparedFigureData(TypedDict):
    """A figure before and after a repair; None where it was not seen."""

    name: str
    unit: str
    before: float | None
    after: float | None


class ProofData(TypedDict):
    """A before-and-after proof as JSON; ``odds`` that the repair held, None where not weighed."""

    result: str
    reason: str
    sentence: str
    load_advice: str
    odds: float | None
    rows: list[ComparedFigureData]


def reading_data(reading: Reading, verdict: Verdict) -> ReadingData:
    """Everything a caller may want, as JSON types; speeds in rpm, times in s, levels in m/s2."""
    course = reading.course
    return {
        "speed": speed(reading),
        "plateaus": [
            {"start_s": round(p.start_s, 2), "end_s": round(p.end_s, 2), "rpm": round(p.rpm, 1)}
            for p in course.plateaus
        ],
        "plateau_confidence": plateau_confidence(reading),
        "not_followed_s": [[round(a, 2), round(b, 2)] for a, b in reading.lost_s],
        "groups": {group: round(p, 4) for group, p in verdict.groups.items()},
        # Four digits for reading; who reckons on takes the verdict itself.
        "likelihood": {group: round(p, 4) for group, p in verdict.likelihood.items()},
        "cannot_tell": verdict.cannot_tell,
        "reason": verdict.reason,
        "sentence": said(reading, verdict),
        "with_baseline": verdict.with_baseline,
        "baseline_left_out": verdict.left_out,
        "can_tell_bits": round(verdict.can_tell_bits, 3),
        "tell_more": verdict.tell_more,
        "top_rpm": round(course.top_rpm, 1),
        "attempts": course.attempts,
        "given_up": course.given_up,
        "phases": [
            {"phase": s.phase, "start_s": round(s.start_s, 2), "end_s": round(s.end_s, 2)}
            for s in course.stretches
        ],
        "orders": orders(reading),
        "resonances": resonances(reading),
        "knocks": {
            "times_s": list(reading.knocks.t_s[:MOST_KNOCKS]),
            "per_second": round(reading.knocks.per_second, 3),
            "per_turn": number(reading.knocks.per_turn),
        },
        "lines_hz": [round(float(f), 2) for f in line_centres(reading.track.lines_hz)],
        "recording": {
            "duration_s": round(reading.recording.duration_s, 2),
            "rate_hz": round(reading.recording.rate_hz, 2),
            "step_ms2": number(reading.recording.step_ms2),
            "has_gravity": reading.recording.has_gravity,
            "clipped_fraction": round(reading.recording.clipped_fraction, 5),
        },
        "notes": notes_data(reading.recording.notes),
    }


def plateau_confidence(reading: Reading) -> list[float]:
    """Chance, 0 to 1, that the speed of each plateau is right: the median over its frames."""
    track = reading.track
    inside = [(track.t_s >= p.start_s) & (track.t_s <= p.end_s) for p in reading.course.plateaus]
    return [round(float(np.median(track.confidence[here])), 2) for here in inside]


def number(value: float) -> float | None:
    """Round to four digits; None where there is no number."""
    return float(f"{value:.4g}") if np.isfinite(value) else None


def speed(reading: Reading) -> list[list[float]]:
    """[time in s, rpm] wherever the drum was seen turning; empty if nowhere."""
    # Frames without a drum are left out rather than sent as null.
    known = np.isfinite(reading.track.f_hz)
    return [
        [round(float(t), 2), round(60 * float(f), 1)]
        for t, f in zip(reading.track.t_s[known], reading.track.f_hz[known], strict=True)
    ]


def orders(reading: Reading) -> list[dict[str, float | AxisLevels]]:
    """Levels in m/s2 of each order and axis on every plateau, with the broadband rms."""
    rows = []
    for plateau in reading.course.plateaus:
        here = (reading.orders.t_s >= plateau.start_s) & (reading.orders.t_s <= plateau.end_s)
        row: dict[str, float | AxisLevels] = {"rpm": round(plateau.rpm, 1)}
        for k, order in enumerate(ORDERS):
            # A median over the hold, NaN left out: a moment unclaimed leaves the level.
            size = np.abs(reading.orders.amplitude[k][:, here])
            row[f"{order:g}x"] = {axis: number(middle(size[a])) for a, axis in enumerate(AXES)}
        broad = reading.orders.broadband_ms2[:, here]
        row["broadband"] = {axis: number(middle(broad[a])) for a, axis in enumerate(AXES)}
        rows.append(row)
    return rows


def middle(values: Floats) -> float:
    """Median of what is finite, NaN if nothing is."""
    finite = values[np.isfinite(values)]
    return float(np.median(finite)) if len(finite) else float("nan")


def resonances(reading: Reading) -> list[ResonanceData]:
    """Resonances passed through, slowest first; levels in m/s2, damping ratio None if too wide."""
    return [
        {
            "axis": each.axis,
            "rpm": round(each.rpm),
            "level_ms2": number(each.level_ms2),
            "damping": None if each.damping is None else number(each.damping),
        }
        for each in find_resonances(levels(reading.orders, reading.course))
    ]


def line_centres(lines_hz: Floats) -> list[float]:
    """One frequency in Hz for each bunch of neighbouring bins; empty where there are none."""
    if not len(lines_hz):
        return []
    bunches = np.split(lines_hz, np.flatnonzero(np.diff(lines_hz) > LINE_GAP_HZ) + 1)
    return [float(np.mean(bunch)) for bunch in bunches]


def proof_data(proof: Proof) -> ProofData:
    """Return a before-and-after proof as JSON types; figures None where not seen."""
    return {
        "result": proof.result,
        "reason": proof.reason,
        "sentence": proof.sentence,
        "load_advice": proof.load_advice,
        "odds": None if proof.odds is None else number(proof.odds),
        "rows": [
            {"name": row.name, "unit": row.unit, "before": row.before, "after": row.after}
            for row in proof.rows
        ],
    }
