"""What the machine did when: plateaus, the phase of each stretch, retries, spins given up."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.speed_tracking import SpeedTrack

PHASES = ("still", "tumble", "distribution", "run_up", "hold", "coast")
# Laundry tumbles at 40 to 60 rpm, spreads at 85 to 110, and sticks for good above (common
# practice).
SPIN_RPM = 130.0
TUMBLE_RPM = 70.0
# A controller holds its speed within about 1 %; a climb is 10 to 50 rpm a second
# (estimates).
STEADY_RPM_PER_S = 5.0
PLATEAU_S = 2.0
# A spin that never passed this was given up while the load was being spread.
SPUN_RPM = 250.0
# Of the power of the loudest part: a fast drum is never that quiet.
FAINT = 1e-4
# Tubs ring at 3 to 6 Hz on their springs (estimate), which would read as 180 to 350 rpm.
RINGING_RPM = 350.0


@dataclass(frozen=True)
class Plateau:
    """A stretch of steady speed, from and to in s of the recording."""

    start_s: float
    end_s: float
    rpm: float


@dataclass(frozen=True)
class Stretch:
    """A stretch of one of PHASES, from and to in s of the recording."""

    phase: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Course:
    """The course of a spin; ``phase`` (frames,) indexes PHASES.

    ``attempts`` counts how often the machine set out to spin, ``given_up`` how often it stopped
    short of 250 rpm; ``top_rpm`` is the fastest plateau, else the fastest speed kept up for 4 s.
    """

    phase: NDArray[np.int64]
    stretches: tuple[Stretch, ...]
    plateaus: tuple[Plateau, ...]
    attempts: int
    given_up: int
    top_rpm: float


def slope_rpm_per_s(track: SpeedTrack) -> Floats:
    """Change of speed in rpm a second over 1.5 s around each frame (frames,), NaN at gaps."""
    rpm = 60 * track.f_hz
    reach = max(1, round(0.75 / (track.t_s[1] - track.t_s[0])))
    padded = np.pad(rpm, reach, mode="edge")
    span = 2 * reach * (track.t_s[1] - track.t_s[0])
    slope = (padded[2 * reach :] - padded[: -2 * reach]) / span
    # At the ends of a stretch the wide difference meets a gap.
    one_sided = np.gradient(rpm, track.t_s)
    return np.where(np.isnan(slope), one_sided, slope)


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Stretches [start, end) of true flags, as indices."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(int))
    return list(zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True))


def find_plateaus(track: SpeedTrack, power: Floats) -> tuple[Plateau, ...]:
    """Steady stretches above 60 rpm that last 2 s; those of little ``power`` (frames,) left out."""
    rpm = 60 * track.f_hz
    slope = slope_rpm_per_s(track)
    # At high speed the ripple of the controller grows with it.
    steady = np.abs(np.nan_to_num(slope, nan=np.inf)) < np.maximum(
        STEADY_RPM_PER_S, 0.008 * np.nan_to_num(rpm)
    )
    plateaus = []
    for start, end in runs(steady & (np.nan_to_num(rpm) > 60)):
        a, b = _trim(rpm, start, end)
        if track.t_s[b - 1] - track.t_s[a] < PLATEAU_S or np.std(rpm[a:b]) > 0.01 * np.median(
            rpm[a:b]
        ):
            continue
        fast = np.median(rpm[a:b]) > 1.2 * SPIN_RPM
        if fast and np.median(power[a:b]) < FAINT * np.quantile(power, 0.95):
            continue
        if _is_ringing(rpm, a, b, track.t_s):
            continue
        plateaus.append(
            Plateau(float(track.t_s[a]), float(track.t_s[b - 1]), float(np.median(rpm[a:b])))
        )
    return tuple(plateaus)


def _is_ringing(rpm: Floats, start: int, end: int, t_s: Floats) -> bool:
    """Whether a slow stretch right after a coast is but the tub ringing out.

    No drum brakes to hold such a speed.
    """
    before = rpm[(t_s > t_s[start] - 6.0) & (t_s < t_s[start])]
    level = float(np.median(rpm[start:end]))
    return level < RINGING_RPM and float(np.nanmax(before, initial=0.0)) > 1.5 * level


def _sustained_rpm(rpm: Floats, t_s: Floats) -> float:
    """Highest rpm that was kept up for 4 s: a tub that rings after a stop does not last so long."""
    frames = max(1, round(4.0 / (t_s[1] - t_s[0])))
    if len(rpm) < frames:
        return 0.0
    return float(np.lib.stride_tricks.sliding_window_view(rpm, frames).min(axis=1).max())


def _trim(rpm: Floats, start: int, end: int) -> tuple[int, int]:
    """Cut the ends of a stretch that are still more than 1.2 % off its median."""
    # A hold begins with an overshoot and ends in the next climb.
    while end - start > 3 and abs(rpm[start] - np.median(rpm[start:end])) > 0.012 * rpm[start]:
        start += 1
    while end - start > 3 and abs(rpm[end - 1] - np.median(rpm[start:end])) > 0.012 * rpm[end - 1]:
        end -= 1
    return start, end


def find_course(track: SpeedTrack, power: Floats) -> Course:
    """Phases, plateaus and attempts from the speed and the power (frames,) of each frame."""
    rpm, slope = 60 * np.nan_to_num(track.f_hz), np.nan_to_num(slope_rpm_per_s(track))
    # Above the quietest twentieth of the recording: something moves, drum seen or not.
    moving = power > 3.0 * np.quantile(power, 0.05) + 1e-5
    # Later lines overrule earlier ones: a tracked drum is surer than mere power.
    phase = np.where(moving, 1, 0)
    phase = np.where((rpm > 0) & (rpm <= TUMBLE_RPM), 1, phase)
    phase = np.where((rpm > TUMBLE_RPM) & (rpm <= SPIN_RPM), 2, phase)
    fast = rpm > SPIN_RPM
    phase = np.where(fast, _driven_phase(slope), phase)
    phase = _smoothed(phase)
    stretches = _stretches(phase, track.t_s)
    attempts, given_up = _attempts(stretches, track)
    plateaus = find_plateaus(track, power)
    # A spin without a hold still reached what it kept up for 4 s.
    top = max((p.rpm for p in plateaus if p.rpm > SPIN_RPM), default=_sustained_rpm(rpm, track.t_s))
    return Course(phase, stretches, plateaus, attempts, given_up, top)


def _driven_phase(slope: Floats) -> NDArray[np.int64]:
    return np.where(slope > STEADY_RPM_PER_S, 3, np.where(slope < -STEADY_RPM_PER_S, 5, 4))


def _smoothed(phase: NDArray[np.int64]) -> NDArray[np.int64]:
    """Most frequent phase among five neighbouring frames."""
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(phase, 2, mode="edge"), 5)
    counts = np.stack([(windows == each).sum(axis=1) for each in range(len(PHASES))])
    settled: NDArray[np.int64] = np.argmax(counts, axis=0)
    return settled


def _stretches(phase: NDArray[np.int64], t_s: Floats) -> tuple[Stretch, ...]:
    cuts = np.concatenate([[0], np.flatnonzero(np.diff(phase)) + 1, [len(phase)]])
    ends = np.append(t_s, t_s[-1])
    return tuple(
        Stretch(PHASES[phase[a]], float(t_s[a]), float(ends[b])) for a, b in pairwise(cuts)
    )


def _attempts(stretches: tuple[Stretch, ...], track: SpeedTrack) -> tuple[int, int]:
    """How often the machine set out to spin, and how often it gave up before 250 rpm."""
    tries, gave_up, in_try, best = 0, 0, False, 0.0
    for each in stretches:
        inside = (track.t_s >= each.start_s) & (track.t_s <= each.end_s)
        fastest = 60 * float(np.nan_to_num(track.f_hz[inside]).max(initial=0.0))
        # A spin too short to matter, under 2 s, begins no attempt and ends none.
        setting_out = each.phase in {"distribution", "run_up", "hold", "coast"}
        if setting_out and (in_try or each.end_s - each.start_s > 2.0):
            tries, in_try, best = tries + (not in_try), True, max(best, fastest)
        elif in_try and each.end_s - each.start_s > 2.0:
            gave_up, in_try, best = gave_up + (best < SPUN_RPM), False, 0.0
    return tries, gave_up + (in_try and best < SPUN_RPM)
