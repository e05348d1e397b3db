"""What a pool says of a family's figures, and which contributions do not fit the others."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.figure_names import figure_name
from counterpoise.learning.pooling import ALARM, LEAST_WORKSHOPS, Start, is_near, tail, together
from counterpoise.reasoning.likelihood import full_row
from counterpoise.workshop.diagnosis.family_model import reasoning_check
from counterpoise.workshop.learning.learned import LearnedFigure
from counterpoise.workshop.learning.pool.contribution import Contribution
from counterpoise.workshop.learning.strengths import CURE, FAULT, ROW, strength

_RAREST = 1e6


def written_shares(family: Family) -> dict[str, tuple[float, float]]:
    """(share, how many observations it is worth) as written, by place; what can be pooled."""
    shares = {
        f"faults.{fault.id}.prior": (fault.prior, strength(FAULT, fault.source))
        for fault in family.faults.values()
    }
    for entry in family.checks.values():
        if entry.tells:
            continue
        check, worth = reasoning_check(entry), strength(ROW, entry.source)
        for key, row in [*entry.under.items(), ("", check.otherwise)]:
            start = f"checks.{entry.id}." + (f"under.{key}" if key else "otherwise")
            full = full_row(check, row)
            # the first outcome is what a row leaves over
            shares |= {
                f"{start}.{outcome}": (float(full[i]), worth)
                for i, outcome in enumerate(entry.outcomes)
                if i
            }
    for repair in family.repairs.values():
        worth = strength(CURE, repair.source)
        shares |= {
            f"repairs.{repair.id}.cures.{key}": (share, worth)
            for key, share in repair.cures.items()
        }
    # what is written as certain or impossible is no chance that counts could move
    return {place: pair for place, pair in shares.items() if 0.0 < pair[0] < 1.0}


def counted(family: Family, figures: Sequence[LearnedFigure]) -> Iterator[tuple[str, float, float]]:
    """(place, yes, of) behind figures learned from the written ones alone.

    They are what moved the written figure to the learned one: what is not known adds nothing.
    """
    shares = written_shares(family)
    for each in figures:
        if each.place in shares:
            written, worth = shares[each.place]
            of = max(0.0, each.worth - worth)
            yes = each.here * (worth + of) - written * worth
            yield each.place, float(np.clip(yes, 0.0, of)), of


def pooled(family: Family, contributions: Sequence[Contribution]) -> dict[str, Start]:
    """What each figure starts from by what workshops gave; places that nobody counted are out."""
    shares, starts = written_shares(family), {}
    for place, (written, worth) in shares.items():
        pairs = [
            each.families[family.id][place]
            for each in contributions
            if place in each.families.get(family.id, {})
        ]
        # what nobody counted stays the catalog's
        if pairs:
            yes, of = np.array(pairs, dtype=np.float64).T
            starts[place] = together(written, worth, yes, of)
    return starts


def misfits(
    families: Mapping[str, Family], contributions: Sequence[Contribution]
) -> dict[str, str]:
    """By workshop why its contribution is left out: it disagrees with all others.

    The worst goes first, and the rest are held against one another again: a poisoned one must not
    make honest ones look odd.
    """
    shares = {key: written_shares(family) for key, family in families.items()}
    kept, out = list(contributions), dict[str, str]()
    while len(kept) > LEAST_WORKSHOPS:
        by_place = _by_place(kept, shares)
        # chance and place of the figure that fits worst, by workshop
        worst = [_worst(each, by_place, shares) for each in kept]
        at = min(range(len(kept)), key=lambda i: worst[i][0])
        chance, family, place = worst[at]
        if chance >= ALARM:
            break
        # taken out before the others are judged again
        workshop = kept.pop(at)
        yes, of = workshop.families[family][place]
        others = by_place[family, place]
        share = float((others[0].sum() - yes) / max(others[1].sum() - of, 1.0))
        name = figure_name(families[family], place)
        # beyond a million the law says nothing that could be checked
        rare = min(1 / max(chance, 1e-9), _RAREST)
        out[workshop.workshop] = (
            f"{name} ({families[family].title}): {yes} of {of}, where the others have"
            f" {100 * share:.0f} %; of workshops like them not one in {rare:,.0f} is so far off"
        )
    return out


Shares = Mapping[str, Mapping[str, tuple[float, float]]]
Counted = Mapping[tuple[str, str], tuple[np.ndarray, np.ndarray]]


def _by_place(kept: Sequence[Contribution], shares: Shares) -> Counted:
    """By family and place the counts (W,) of all who gave any, in their order."""
    pairs: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for each in kept:
        for family, places in each.families.items():
            for place, pair in places.items():
                if place in shares.get(family, {}):
                    pairs.setdefault((family, place), []).append(pair)
    return {key: tuple(np.array(some, dtype=np.float64).T) for key, some in pairs.items()}


def _worst(given: Contribution, by_place: Counted, shares: Shares) -> tuple[float, str, str]:
    """The chance of the figure that fits the others worst, for so many looks; and which it is."""
    worst, looks = (1.0, "", ""), 0
    for family, places in given.families.items():
        for place, (yes, of) in places.items():
            if (family, place) not in by_place:
                continue
            all_yes, all_of = by_place[family, place]
            # any row equal to its own may be taken off: they are the same numbers
            own = int(np.flatnonzero((all_yes == yes) & (all_of == of))[0])
            others_yes, others_of = np.delete(all_yes, own), np.delete(all_of, own)
            if len(others_of) < LEAST_WORKSHOPS:
                continue
            # every figure is one more chance to lie far out
            looks += 1
            law = together(*shares[family][place], others_yes, others_of)
            if is_near(yes, of, law):
                continue
            worst = min(worst, (tail(yes, of, law), family, place))
    # of many figures one lies far out by luck
    return min(1.0, worst[0] * looks) if looks else 1.0, worst[1], worst[2]


__all__ = ["counted", "misfits", "pooled", "written_shares"]
