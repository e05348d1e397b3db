"""Amounts with their ranges on one axis of money, with its zero."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from counterpoise.report.figures.chart import Chart, round_ticks
from counterpoise.report.words import numbers

_ROW, _BAR, _AXIS = 50, 12, 26  # px: of a row, of the bar in it, of the figures below
_BESIDE = 0.07  # share left free at both ends, for the words of the outer ticks


@dataclass(frozen=True, slots=True)
class Amount:
    """A named amount in minor units with its range, ``low`` and ``high`` alike where it has none.

    ``leads``: it is the one that comes out best.
    """

    title: str
    minor: int
    low_minor: int
    high_minor: int
    leads: bool = False


def money_axis(amounts: Sequence[Amount], currency: str, *, exact: bool = False) -> Markup:
    """Every amount as a mark on its range, all on one axis; empty where there are none.

    ``exact``: to the last coin, as prices are; else in whole units, as estimates are.
    """
    show = numbers.money if exact else numbers.about
    if not amounts:
        return Markup()
    ends = [
        0,
        *(amount.low_minor for amount in amounts),
        *(amount.high_minor for amount in amounts),
    ]
    ends += [amount.minor for amount in amounts]
    # the mean may lie outside of eight times in ten
    low, high = min(ends), max(ends)
    span = (high - low) or 1

    def place(minor: float) -> float:
        return _BESIDE + (1 - 2 * _BESIDE) * (minor - low) / span

    bottom = _ROW * len(amounts) + 4
    chart = Chart(bottom + _AXIS)
    ticks = round_ticks(low, high, 4)
    for minor in ticks:
        # the currency once, beside the nought: on every figure it would only fill the line
        text = numbers.about(round(minor), currency)
        bare = text if round(minor) == 0 else text.removesuffix(currency).strip()
        chart.words(place(minor), bottom + 18, bare, "middle")
    for row, amount in enumerate(amounts):
        top = _ROW * row
        # beside the bars alone: a rule through a name strikes it out
        for minor in ticks:
            chart.rule(place(minor), top + 22, place(minor), top + _ROW - 6)
        # what lies left of the zero costs
        chart.rule(place(0), top + 20, place(0), top + _ROW, "ink")
        chart.words(0, top + 17, amount.title, bold=amount.leads)
        chart.words(1, top + 17, show(amount.minor, currency), "end", bold=amount.leads)
        chart.bar(place(amount.low_minor), top + 26, place(amount.high_minor), _BAR)
        # a price has no range that a mark could stand on
        if exact:
            continue
        chart.tick(place(amount.minor), top + 23, _BAR + 6, "accent" if amount.leads else "ink")
    return chart.svg(_said(amounts, currency))


def _said(amounts: Sequence[Amount], currency: str) -> str:
    lines = []
    for amount in amounts:
        span = numbers.reach(amount.low_minor, amount.high_minor, currency)
        lines.append(
            f"{amount.title} {numbers.about(amount.minor, currency)}"
            + (f" ({span})" if span else "")
        )
    return "; ".join(lines) + "."
