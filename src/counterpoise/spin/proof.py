"""Before and after: whether the machine runs true now.

A proof spin passes when the machine gets up to speed, shakes no more than a sound machine may, and
the fault that the first spin showed is gone from the second. Where the first showed none that a
recording can show, the second proves nothing, and it says so. How much it shakes beside before is
shown, and decides only where no cause was rehearsed: on rehearsed pairs it told nothing that the
causes had not (docs/spin.md).
"""

from dataclasses import dataclass

import numpy as np

from counterpoise.spin.causes.groups import GROUPS, WORDS
from counterpoise.spin.causes.repair_odds import repair_log_odds
from counterpoise.spin.causes.verdict import Verdict, judge, unusable_reason
from counterpoise.spin.features.signature import levels
from counterpoise.spin.reading import Reading

LOAD_ADVICE = (
    "Both times the same load: two wet bath towels, spread by hand, and the highest spin speed."
)
PASS, NOT_YET, CANNOT_TELL = "pass", "not yet", "cannot tell"
# A gross limit (estimate): sound machines stay well below it, simulated ones included, and real
# ones far below. More is never true running, whatever it was before.
GROSS_MM_S = 200.0
# Load and place of the phone alone move the shake by a quarter or so (estimates).
WORSE = 1.3
BETTER = 0.8
# Shake grows with the square of the speed: 12 % of speed is a quarter of shake.
SPEED_MATCH = 0.12
# One in ten seconds: laundry falls as often in any drum (estimate).
FEW_KNOCKS = 0.1
# Odds that the repair held, natural logarithm, at which it passes and at which it fails. Of 198
# rehearsed pairs that judge nothing an eighth of those with a fault left lie above the first, a
# twelfth of those in order below the second (`python -m benchmarks.proof_pairs --set`).
PASSES_AT, FAILS_AT = 1.37, 0.17


@dataclass(frozen=True)
class ComparedFigure:
    """A figure before and after, already rounded for reading; None where it was not seen."""

    name: str
    unit: str
    before: float | None
    after: float | None


@dataclass(frozen=True)
class Proof:
    """Result ``pass``, ``not yet`` or ``cannot tell``, its reason, a sentence, the figures."""

    result: str
    reason: str
    sentence: str
    rows: tuple[ComparedFigure, ...]
    load_advice: str = LOAD_ADVICE
    # that the repair held, by these two alone; None where the causes were not weighed
    odds: float | None = None


@dataclass(frozen=True)
class RunLevel:
    """Shake and knocks of a machine that runs and does not spin: rms in m/s2, knocks a second."""

    shake_ms2: float
    knocks_per_s: float


def run_level(reading: Reading) -> RunLevel:
    """Figures of a recording without a spin: the median shake while something moves."""
    rms = np.sqrt(np.sum(reading.orders.rms_ms2**2, axis=0))
    # the first of the phases is standing still
    moving = rms[reading.course.phase > 0]
    return RunLevel(float(np.median(moving)) if len(moving) else 0.0, reading.knocks.per_second)


@dataclass(frozen=True)
class SpinLevel:
    """Speed and shake of one recording; NaN where they were not seen.

    1x velocity at full speed in mm/s, largest 1x on the way up in m/s2, knocks a second, spins
    given up.
    """

    top_rpm: float
    full_mm_s: float
    worst_ms2: float
    knocks_per_s: float
    given_up: int


def spin_level(reading: Reading) -> SpinLevel:
    """Figures of one recording: 1x velocity at full speed (peak, all axes), largest 1x below."""
    lev = levels(reading.orders, reading.course)
    first = lev.total[1]
    full = first[lev.full & np.isfinite(first)]
    # Acceleration over angular speed is velocity, which limits for machines are stated in.
    omega = 2 * np.pi * reading.course.top_rpm / 60
    # Not the maximum: one frame in fifty may be a bump.
    climbing = first[np.isfinite(first) & ~lev.full]
    return SpinLevel(
        reading.course.top_rpm,
        1000 * float(np.median(full)) / omega if len(full) else float("nan"),
        float(np.quantile(climbing, 0.98)) if len(climbing) > 8 else float("nan"),
        reading.knocks.per_second,
        reading.course.given_up,
    )


def compare(before: Reading, after: Reading) -> Proof:
    """Judge a proof spin against the spin before the repair; the result may be ``cannot tell``."""
    if not after.kind.spins:
        return _proof(*_ran(before, after))
    old, new = spin_level(before), spin_level(after)
    rows = _rows(old, new)
    # whether a fault is left is asked only where causes were rehearsed
    if after.kind.no_cause:
        return _proof(*_compared(old, new, after), rows)
    said = judge(before), judge(after)
    result, reason = _unweighed(old, new, after)
    if result:
        return _proof(result, reason, rows)
    log_odds = repair_log_odds(*(np.array([each.groups[g] for g in GROUPS]) for each in said))
    return _proof(*_weighed(log_odds, *said, (old, new)), rows, float(np.exp(log_odds)))


def _proof(
    result: str, reason: str, rows: tuple[ComparedFigure, ...], odds: float | None = None
) -> Proof:
    words = {
        PASS: "The machine runs true now.",
        NOT_YET: "Not yet.",
        CANNOT_TELL: "These two recordings cannot tell.",
    }[result]
    return Proof(result, reason, f"{words} {reason}", rows, odds=odds)


def _unweighed(old: SpinLevel, new: SpinLevel, after: Reading) -> tuple[str, str]:
    """What settles it before any cause is weighed; empty where nothing does."""
    if reason := unusable_reason(after):
        return CANNOT_TELL, reason
    # Whether it gets up to speed comes first: a spin given up has no level to compare.
    if new.given_up and new.top_rpm < 250:
        return NOT_YET, "It still gives up before the spin."
    if np.isnan(new.full_mm_s):
        return (
            CANNOT_TELL,
            f"After the repair it reached only {new.top_rpm:.0f} rpm: use the highest spin speed.",
        )
    if new.full_mm_s > GROSS_MM_S:
        return NOT_YET, (
            f"At full speed the panel moves at {new.full_mm_s:.0f} mm/s; "
            f"{GROSS_MM_S:.0f} is too much."
        )
    if np.isfinite(old.full_mm_s) and abs(new.top_rpm / old.top_rpm - 1) > SPEED_MATCH:
        return CANNOT_TELL, (
            f"The top speeds differ ({old.top_rpm:.0f} and {new.top_rpm:.0f} rpm): "
            "run the same programme again."
        )
    return "", ""


def _weighed(
    log_odds: float, before: Verdict, after: Verdict, levels_of: tuple[SpinLevel, SpinLevel]
) -> tuple[str, str]:
    """The result by what both say of the causes, and its reason."""
    old, new = levels_of
    was = next(each for each in before.ranked if each != "nothing_found")
    still = after.ranked[0]
    if log_odds <= FAILS_AT:
        if still != "nothing_found":
            return NOT_YET, f"The recording still points to this: {WORDS[still]}."
        return NOT_YET, "It looks more like a machine with its fault than like one in order."
    # A spin given up has no cause to lose; that it spins now is what was asked for.
    spins_now = bool(old.given_up) and old.top_rpm < 250
    if log_odds >= PASSES_AT or spins_now:
        gone = (
            f"It reaches {new.top_rpm:.0f} rpm; before it gave up."
            if spins_now
            else f"What the first one pointed to is gone: {WORDS[was]}."
        )
        less = 1 - new.full_mm_s / old.full_mm_s if old.full_mm_s > 0 else np.nan
        return PASS, gone + (f" It shakes {100 * less:.0f} % less." if less > 1 - BETTER else "")
    if before.ranked[0] == "nothing_found" or before.cannot_tell:
        return CANNOT_TELL, (
            "The first one shows no fault, so the second cannot show that it is gone: "
            "look after what was repaired by hand, and watch the spin."
        )
    return CANNOT_TELL, (
        f"Whether it is gone is not clear: {WORDS[was]}. "
        "Look after what was repaired by hand, and watch the spin."
    )


def _compared(old: SpinLevel, new: SpinLevel, after: Reading) -> tuple[str, str]:
    """Before against after alone: no limit and no fault of this kind of machine was rehearsed."""
    if reason := unusable_reason(after):
        return CANNOT_TELL, reason
    if np.isnan(new.full_mm_s):
        return (
            CANNOT_TELL,
            f"After the repair it reached only {new.top_rpm:.0f} rpm: let it run up to the end.",
        )
    if np.isnan(old.full_mm_s):
        return PASS, f"It reaches {new.top_rpm:.0f} rpm; before it did not get there."
    if abs(new.top_rpm / old.top_rpm - 1) > SPEED_MATCH:
        return CANNOT_TELL, (
            f"The top speeds differ ({old.top_rpm:.0f} and {new.top_rpm:.0f} rpm): "
            "run it the same way again."
        )
    ways = [new.full_mm_s / old.full_mm_s, _ratio(new.worst_ms2, old.worst_ms2)]
    return _by_level(max(ways), min(ways))


def _ran(before: Reading, after: Reading) -> tuple[str, str, tuple[ComparedFigure, ...]]:
    """The same for a machine that does not spin: its shake and its knocks."""
    old, new = run_level(before), run_level(after)
    rows = (
        _row("shake as it runs", "m/s2", old.shake_ms2, new.shake_ms2, 2),
        _row("knocks", "per second", old.knocks_per_s, new.knocks_per_s, 2),
    )
    if reason := unusable_reason(after):
        return CANNOT_TELL, reason, rows
    shake, knocks = _ratio(new.shake_ms2, old.shake_ms2), _ratio(new.knocks_per_s, old.knocks_per_s)
    # knocks that began with the repair have nothing to be divided by
    began = old.knocks_per_s < FEW_KNOCKS < new.knocks_per_s
    return *_by_level(WORSE + 1 if began else max(shake, knocks), min(shake, knocks)), rows


def _by_level(worst: float, best: float) -> tuple[str, str]:
    """The result by the ratios of after to before: the worst decides against, the best for it."""
    if worst > WORSE:
        return NOT_YET, "It shakes or knocks more than before."
    if best > BETTER:
        return CANNOT_TELL, (
            "It shakes about as much as before, and whether a fault is left no recording of this "
            "kind of machine can tell."
        )
    return PASS, (
        f"It shakes or knocks {100 * (1 - best):.0f} % less; whether anything else is wrong no "
        "recording of this kind of machine can tell."
    )


def _ratio(new: float, old: float) -> float:
    """Ratio of two levels; 1 where either was not seen, which then decides nothing."""
    return new / old if np.isfinite(new) and np.isfinite(old) and old > 0 else 1.0


def _row(name: str, unit: str, a: float, b: float, digits: int) -> ComparedFigure:
    values = [round(float(each), digits) if np.isfinite(each) else None for each in (a, b)]
    return ComparedFigure(name, unit, values[0], values[1])


def _rows(old: SpinLevel, new: SpinLevel) -> tuple[ComparedFigure, ...]:
    return (
        _row("top speed", "rpm", old.top_rpm, new.top_rpm, 0),
        _row("movement at full speed", "mm/s", old.full_mm_s, new.full_mm_s, 1),
        _row("worst passage on the way up", "m/s2", old.worst_ms2, new.worst_ms2, 2),
        _row("knocks at low speed", "per second", old.knocks_per_s, new.knocks_per_s, 2),
        _row("spins given up", "times", old.given_up, new.given_up, 0),
    )
