"""A recorded spin as a chart: speed against time, and the shake once a turn against speed.

Of two spins, before and after or sound and now, both lie over each other on the same axes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from counterpoise.report.figures.chart import Anchor, Chart, Kind, round_ticks
from counterpoise.spin.features.signature import levels
from counterpoise.spin.reading import Reading
from counterpoise.spin.recording import Floats

RPM_APART = 20.0  # as finely as a phone tells speeds apart
_MOST_PLACES = 240  # of a curve: more than a phone has px across
_PLOT, _TITLE, _FOOT, _GAP = 150.0, 34.0, 24.0, 14.0  # px
_EDGE = 0.02  # share left free at the right, so that a line at the end is seen
_CLIMBING = 0.6  # share of the top speed that no tumbling reaches
_WIDE_ENOUGH = 0.12  # share of the width from which a stretch has room for its figure
Place = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class DrawnSpin:
    """A spin to be drawn; ``words`` name it in the key, empty where it is alone."""

    words: str
    reading: Reading


def spin_chart(spins: Sequence[DrawnSpin], wide: float | None = None) -> Markup:
    """Both plots of one or two spins, the later one last and drawn over the other.

    Times are from when a drum is first followed: a phone lies still for as long as it likes. Two
    spins lie so that both run up together.

    ``wide`` px on paper, None on a page.
    """
    block = _TITLE + _PLOT + _FOOT
    # what is named has a line of its own at the top, so that no curve runs through it
    key = 24.0 if len(spins) > 1 else 0.0
    # speed above, shake below: the first says when, the second at which speed
    chart = Chart(key + 2 * block + _GAP, wide)
    if key:
        _key(chart, spins)
    _speed(chart, spins, key)
    _shake(chart, spins, key + block + _GAP)
    return chart.svg(said(spins))


def once_a_turn(reading: Reading) -> tuple[Floats, Floats]:
    """Speeds 20 rpm apart, and the median shake once a turn at each in m/s2: two arrays (n,).

    A speed without a finite level is NaN.
    """
    by_rpm = levels(reading.orders, reading.course)
    total = by_rpm.total[1]
    slot = np.round(by_rpm.rpm / RPM_APART)
    slots = np.unique(slot)
    # a speed without a finite level leaves a gap in the line rather than a bridge over it
    medians = [
        float(np.median(total[here])) if np.any(here) else np.nan
        for here in ((slot == each) & np.isfinite(total) for each in slots)
    ]
    return RPM_APART * slots, np.asarray(medians, dtype=float)


def said(spins: Sequence[DrawnSpin]) -> str:
    """What the chart shows, in a sentence for each spin."""
    return " ".join(_said(spin) for spin in spins)


def _said(spin: DrawnSpin) -> str:
    rpm, shake = once_a_turn(spin.reading)
    name = f"{spin.words.capitalize()}: " if spin.words else ""
    lasts = f"{name}{_length_s(spin.reading):.0f} s, up to {spin.reading.course.top_rpm:.0f} rpm"
    if not np.isfinite(shake).any():
        return f"{lasts}; no shake once a turn is seen."
    most = int(np.nanargmax(shake))
    return f"{lasts}; shakes most at {rpm[most]:.0f} rpm, {shake[most]:.1f} m/s² once a turn."


def _kind(spins: Sequence[DrawnSpin], place: int) -> Kind:
    return "accent" if len(spins) > 1 and place == len(spins) - 1 else "ink"


def _key(chart: Chart, spins: Sequence[DrawnSpin]) -> None:
    for place, spin in enumerate(spins):
        left = 0.5 * place
        # the older one dashed: told apart where there is no colour
        dashed = place < len(spins) - 1
        chart.curve([(left, 0.5), (left + 0.1, 0.5)], (3, 15), _kind(spins, place), dashed=dashed)
        chart.words(left + 0.12, 14, spin.words)


def _speed(chart: Chart, spins: Sequence[DrawnSpin], top: float) -> None:
    starts = _starts([spin.reading for spin in spins])
    longest = max(
        float(spin.reading.track.t_s[-1]) - start for spin, start in zip(spins, starts, strict=True)
    )
    fastest = max(float(np.nanmax(60 * _followed(spin.reading.track.f_hz))) for spin in spins)
    across, up = _grid(chart, top, ("Speed, rpm", "s"), (longest, fastest))
    box = (top + _TITLE, top + _TITLE + _PLOT)
    for place, spin in enumerate(spins):
        track = spin.reading.track
        step = max(1, len(track.t_s) // _MOST_PLACES)
        at = track.t_s[::step] - starts[place]
        curve = [
            (across(t), up(rpm))
            for t, rpm in zip(at.tolist(), (60 * track.f_hz[::step]).tolist(), strict=True)
            if t >= 0
        ]
        dashed = place < len(spins) - 1
        chart.curve(curve, box, _kind(spins, place), dashed=dashed)
    # a speed held is what the programme asked for: of the last spin alone, or figures overlap
    reading = spins[-1].reading
    for held in reading.course.plateaus:
        left, right = (across(t - starts[-1]) for t in (held.start_s, held.end_s))
        if right - left >= _WIDE_ENOUGH:
            line = box[1] - _PLOT * up(held.rpm)
            chart.words((left + right) / 2, line - 6, f"{held.rpm:.0f}", "middle", bold=True)


def _shake(chart: Chart, spins: Sequence[DrawnSpin], top: float) -> None:
    drawn = [once_a_turn(spin.reading) for spin in spins]
    fastest = max((float(rpm.max()) for rpm, _ in drawn if rpm.size), default=1.0)
    most = max(
        (float(np.nanmax(shake)) for _, shake in drawn if np.isfinite(shake).any()), default=1.0
    )
    across, up = _grid(chart, top, ("Shake once a turn, m/s²", "rpm"), (fastest, most))
    box = (top + _TITLE, top + _TITLE + _PLOT)
    for place, (rpm, shake) in enumerate(drawn):
        curve = [(across(x), up(y)) for x, y in zip(rpm.tolist(), shake.tolist(), strict=True)]
        chart.curve(curve, box, _kind(spins, place), dashed=place < len(spins) - 1)


def _grid(
    chart: Chart, top: float, words: tuple[str, str], ends: tuple[float, float]
) -> tuple[Place, Place]:
    """Title, rules and figures of a plot; returns how a value becomes a share across and up.

    ``words``: the title, and the unit across; ``ends``: the largest values across and up, from 0.
    """
    # both axes begin at nought: half a scale makes a small wobble look like a run-up
    title, unit = words
    last, highest = ends[0] or 1.0, 1.15 * ends[1] or 1.0
    base = top + _TITLE + _PLOT

    def across(value: float) -> float:
        return (1 - _EDGE) * value / last

    def up(value: float) -> float:
        return value / highest

    chart.words(0, top + 15, title, bold=True)
    for value in round_ticks(0, highest, 4):
        line = base - _PLOT * up(value)
        chart.rule(0, line, 1, line, "ink" if value == 0 else "faint")
        # inside the plot, on their rule: a margin at the side would take a tenth of a phone
        if value:
            chart.words(0, line - 3, f"{value:g}")
    ticks = round_ticks(0, last, 5)
    for value in ticks:
        chart.rule(across(value), base, across(value), base + 5, "ink")
        # the unit stands once, behind the nought
        text = f"0 {unit}" if value == 0 else f"{value:g}"
        last_of_all = across(value) > 1 - 3 * _EDGE
        anchor: Anchor = "start" if value == 0 else "end" if last_of_all else "middle"
        chart.words(across(value), base + 20, text, anchor)
    return across, up


def _length_s(reading: Reading) -> float:
    """Seconds from when the drum is first followed to the end."""
    return float(reading.track.t_s[-1]) - _start_s(reading) if reading.track.t_s.size else 0.0


def _starts(readings: Sequence[Reading]) -> list[float]:
    """Where the axis of time begins on the clock of each recording, in s."""
    first = [_start_s(reading) for reading in readings]
    # laundry may tumble for minutes before one spin and not before the other
    climbs = [_climbs_s(reading) for reading in readings]
    lead = max(climb - start for climb, start in zip(climbs, first, strict=True))
    return [climb - lead for climb in climbs]


def _climbs_s(reading: Reading) -> float:
    """When the drum first turns at a good part of its top speed, in s; else its first turn."""
    rpm = np.nan_to_num(60 * reading.track.f_hz)
    fast = np.flatnonzero(rpm > _CLIMBING * rpm.max()) if rpm.max() > 0 else rpm[:0]
    return float(reading.track.t_s[int(fast[0])]) if fast.size else _start_s(reading)


def _start_s(reading: Reading) -> float:
    """When the drum is first followed, in s; the first reading where it never is."""
    followed = np.flatnonzero(np.isfinite(reading.track.f_hz))
    return float(reading.track.t_s[followed[0] if followed.size else 0])


def _followed(f_hz: Floats) -> Floats:
    """The speeds as they are, or 0 where the drum was never followed."""
    return f_hz if np.isfinite(f_hz).any() else np.zeros(1)
