"""What a recording says, and whether it says anything at all."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.learning.readers import recalibrated
from counterpoise.spin.causes.alarm_bound import expected_bits
from counterpoise.spin.causes.groups import GROUPS, PRIOR, WORDS
from counterpoise.spin.causes.posterior import group_probabilities, stands_beside
from counterpoise.spin.kind import expected_rpm
from counterpoise.spin.reading import Reading

# Of nine groups none is above a third: nothing to act on (estimate).
LEAST_FIRST = 0.34
# A spin takes a minute or more; a climb alone takes 20 s (common practice).
LEAST_SECONDS = 20.0
# Three seconds of a drum seen turning.
LEAST_FRAMES = 12
# Less than this the recording hardly moves a belief; a load off centre shows more (estimate).
LITTLE_BITS = 0.35
# What tells more was measured on rehearsed machines (docs/spin.md): a spin begun in mid-run tells
# half as much, few readings a second a third less, and a weight tied in no more on the whole.
WHOLE_SPIN = (
    "It tells little, for the climb is not in it: start recording before the drum turns, and leave "
    "it until the drum has stopped."
)
MORE_READINGS = "It tells little: record with a logging program at 100 readings a second or more."
BY_HAND = "It tells little, and another recording hardly more: go by hand."
SLOW_READINGS_HZ = 55.0
# Slower than this no spin was reached, and a baseline has nothing to compare.
SLOW_RPM = 250.0


@dataclass(frozen=True)
class Verdict:
    """Probability of each group under equal faults, and what multiplies a job's own prior.

    ``likelihood`` is relative to the most likely group; it is 1 everywhere when the recording
    cannot tell. Both are empty for a kind of machine that no cause was rehearsed on. ``reason``
    says why it cannot tell, "" if it can.
    """

    groups: dict[str, float]
    likelihood: dict[str, float]
    cannot_tell: bool
    reason: str
    with_baseline: bool
    # Bits that this recording is expected to gain over knowing nothing; 0 where it cannot tell.
    can_tell_bits: float = 0.0
    # What would tell more where this tells little, "" where it tells enough.
    tell_more: str = ""
    # Why a baseline that was given says nothing here, "" where it counts or none was given.
    left_out: str = ""

    @property
    def ranked(self) -> list[str]:
        """Groups sorted, most likely first."""
        return sorted(self.groups, key=lambda group: -self.groups[group])


def judge(reading: Reading, baseline: Reading | None = None) -> Verdict:
    """What a recording says of each group; ``baseline`` is one of the healthy machine, or None."""
    # Nothing was rehearsed on machines of its kind: no group at all, rather than groups of washers.
    if reading.kind.no_cause:
        return Verdict({}, {}, True, reading.kind.no_cause, False)
    # The prior, and likelihoods of 1: a job that multiplies by them stays where it was.
    if reason := unusable_reason(reading):
        return Verdict(dict(PRIOR), dict.fromkeys(GROUPS, 1.0), True, reason, False)
    left_out = _left_out(reading, baseline) if baseline is not None else ""
    # From here on as if none had been given, to the last digit.
    sound = None if left_out else baseline
    p = group_probabilities(reading.signature, sound.signature if sound else None)
    groups = dict(zip(GROUPS, (float(each) for each in p), strict=True))
    # Over the prior of equal faults; what is left is the likelihood, whatever the job believes.
    odds = {group: groups[group] / PRIOR[group] for group in GROUPS}
    most = max(odds.values())
    reason = ""
    if p.max() < LEAST_FIRST:
        slow = reading.course.top_rpm < SLOW_RPM
        reason = (
            "The machine never got up to speed."
            if slow
            else "Several causes fit about equally well."
        )
    likelihood = {group: each / most for group, each in odds.items()}
    bits = expected_bits(p[None])
    more = _tells_more(reading) if bits < LITTLE_BITS else ""
    return Verdict(
        groups, likelihood, bool(reason), reason, sound is not None, bits, more, left_out
    )


def _left_out(reading: Reading, baseline: Reading) -> str:
    """Why a baseline is worth no more than none, "" if it is."""
    # What cannot be read by itself cannot be compared with either.
    if reason := unusable_reason(baseline):
        return f"The baseline was left out. {reason}"
    if not baseline.course.top_rpm > SLOW_RPM:
        return "The baseline was left out: the machine never got up to speed in it."
    if not stands_beside(reading.signature, baseline.signature):
        return (
            "The baseline was left out, for the climb is not in it: record a whole spin of the "
            "healthy machine."
        )
    return ""


def as_set(verdict: Verdict, power: float, weights: Mapping[str, float]) -> Verdict:
    """A verdict with its likelihoods raised to a power and weighed by group (1 where not named).

    Whether it can tell stays as it was read, so that what is learned from is not chosen by what was
    learned.
    """
    if verdict.cannot_tell or not verdict.groups:
        return verdict
    names = list(verdict.likelihood)
    words = np.array([verdict.likelihood[name] for name in names])
    counted = recalibrated(words, power, np.array([weights.get(name, 1.0) for name in names]))
    # likelihoods are what is set: the prior of equal faults stays as it is
    p = counted * np.array([PRIOR[name] for name in names])
    p /= p.sum()
    in_order = p[[names.index(group) for group in GROUPS]]
    return replace(
        verdict,
        groups=dict(zip(names, p.tolist(), strict=True)),
        likelihood=dict(zip(names, (counted / counted.max()).tolist(), strict=True)),
        can_tell_bits=expected_bits(in_order[None]),
    )


def _tells_more(reading: Reading) -> str:
    """What would tell more than this recording does, in a sentence."""
    # Known only where the drum was seen slow before it was seen fast.
    if not np.isfinite(reading.signature["climb_most"]):
        return WHOLE_SPIN
    return MORE_READINGS if reading.recording.rate_hz < SLOW_READINGS_HZ else BY_HAND


def unusable_reason(reading: Reading) -> str:
    """Why a recording says nothing at all, "" if it says something."""
    if reading.recording.duration_s < LEAST_SECONDS:
        return (
            f"The recording is only {reading.recording.duration_s:.0f} s long; "
            "a spin takes a minute or more."
        )
    if reading.too_slow:
        expected = expected_rpm(reading.kind, reading.told_rpm) or 0.0
        return (
            f"At {reading.recording.rate_hz:.0f} readings a second {expected:.0f} rpm cannot be "
            f"seen: that is {expected / 60:.0f} turns a second, and it takes "
            f"{2.2 * expected / 60:.0f} readings a second or more. A phone's browser gives 50 to "
            "100: record with a logging program at 200 or more."
        )
    if reading.still:
        return "The phone lay still: no machine is running in this recording."
    # What only turns is too slow to be followed, and need not be.
    if not reading.kind.spins:
        return ""
    # A fast drum counts however short it was seen.
    moving = np.isfinite(reading.track.f_hz).sum()
    if moving < LEAST_FRAMES and reading.course.top_rpm < SLOW_RPM:
        return "No turning drum can be seen in this recording."
    return ""


def sentence(verdict: Verdict) -> str:
    """One plain sentence for the bench, chances in percent."""
    if not verdict.groups:
        return verdict.reason
    if verdict.cannot_tell:
        return " ".join(
            each
            for each in (
                "This recording cannot tell.", verdict.reason, verdict.tell_more, verdict.left_out
            )
            if each
        )  # fmt: skip
    first, second = verdict.ranked[:2]
    # Four in five: the word for it in the shop is "clearly" (estimate).
    sure = "clearly points to" if verdict.groups[first] > 0.8 else "points to"
    text = f"The recording {sure}: {WORDS[first]} ({100 * verdict.groups[first]:.0f} %)."
    if verdict.groups[second] > 0.1:
        text += f" Next: {WORDS[second]} ({100 * verdict.groups[second]:.0f} %)."
    return " ".join(each for each in (text, verdict.tell_more, verdict.left_out) if each)
