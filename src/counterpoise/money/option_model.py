"""Records of a comparison of options: money in minor units, hypotheses along axis 0."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

Floats = NDArray[np.float64]
Law = Literal["normal", "positive", "chance"]
Unit = Literal["money", "minutes", "percent", "number"]


@dataclass(frozen=True, slots=True)
class Risk:
    """Something that may happen after the choice: ``chance`` (H,), ``loss_minor`` a number or (H,).

    ``words`` must fit into "the chance that <words>". Of an option's risks at most one happens.
    ``spread``: how unsure the chance itself is, as a share of it (from memory: half); it matters
    only for what the choice hinges on.
    """

    words: str
    chance: Floats
    loss_minor: float | Floats
    spread: float = 0.5


@dataclass(frozen=True, slots=True)
class Option:
    """A way to end the job; ``values`` (H,) in minor units by hypothesis, before ``risks``.

    ``days`` is the time until the money is there, ``minutes`` the bench time it still takes.
    """

    id: str
    title: str
    values: Floats
    risks: tuple[Risk, ...] = ()
    days: float = 0.0
    minutes: float = 0.0
    available: bool = True


@dataclass(frozen=True, slots=True)
class Unknown:
    """A number nobody knows exactly.

    ``effect`` by option id: minor units more for each unit more of it.

    The option's ``values`` hold at the ``mean``. ``law``: "normal"; "positive" (lognormal, for
    prices and minutes); "chance" (beta, 0..1). ``words`` must fit into "If <words> ...": "the price
    of the bearing set". An effect may be one number or one for each hypothesis (H,).
    """

    id: str
    words: str
    mean: float
    sd: float
    effect: Mapping[str, float | Floats]
    law: Law = "normal"
    unit: Unit = "money"


@dataclass(frozen=True, slots=True)
class OptionCase:
    """All of a comparison: ``belief`` (H,), the options, the unknowns, and the suspects.

    ``suspects`` maps plain words ("a worn main bearing") to a mask (H,) of the hypotheses in which
    it is present.
    """

    belief: Floats
    options: tuple[Option, ...]
    unknowns: tuple[Unknown, ...] = ()
    suspects: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    currency: str = "EUR"
    draws: int = 4000

    def __post_init__(self) -> None:
        _check_belief(self.belief)
        # without an open option 'the best' has no meaning
        if not any(option.available for option in self.options):
            raise InputError(
                "no option is open", field="options", remedy="Offer at least one way to end the job"
            )
        ids = [option.id for option in self.options]
        # unknowns act on options by id
        if len(set(ids)) < len(ids):
            raise InputError(
                "two options have the same id", field="options", remedy="Give each its own"
            )
        for option in self.options:
            _check_option(option, self.belief.shape)
        for unknown in self.unknowns:
            _check_unknown(unknown, ids, self.belief.size)
        for words, mask in self.suspects.items():
            if np.shape(mask) != self.belief.shape:
                raise InputError(f"suspect {words!r} needs one mark a hypothesis", field="suspects")
        # below that a tenth of the draws is no quantile
        if self.draws < 100:
            raise InputError(
                "fewer than 100 draws tell nothing", field="draws", remedy="Use some thousands"
            )


def _check_belief(belief: Floats) -> None:
    if (
        belief.ndim != 1
        or not belief.size
        or not np.all(belief >= 0)
        # as exact as a sum of thousands of floats can be
        or not np.isclose(belief.sum(), 1.0, atol=1e-6)
    ):
        raise InputError(
            "the belief is no distribution",
            field="belief",
            remedy="Give chances of 0 or more that add up to 1",
        )


def _check_option(option: Option, shape: tuple[int, ...]) -> None:
    if np.shape(option.values) != shape or not np.all(np.isfinite(option.values)):
        raise InputError(
            f"option {option.id!r} needs one finite value a hypothesis", field="values"
        )
    for risk in option.risks:
        if np.shape(risk.chance) != shape or not np.all((risk.chance >= 0) & (risk.chance <= 1)):
            raise InputError(
                f"risk {risk.words!r} needs one chance from 0 to 1 a hypothesis", field="chance"
            )
        # np.shape of a plain number is ()
        if np.shape(risk.loss_minor) not in {(), shape}:
            raise InputError(
                f"risk {risk.words!r} needs a loss that is one number, or one a hypothesis",
                field="loss_minor",
            )
    # they are drawn side by side on one throw, which has room for 1
    if np.any(sum((risk.chance for risk in option.risks), np.zeros(shape)) > 1.0 + 1e-9):
        raise InputError(
            f"the risks of option {option.id!r} add up to more than 1",
            field="chance",
            remedy="At most one can happen",
        )


def _check_unknown(unknown: Unknown, ids: list[str], hypotheses: int) -> None:
    wrong = ""
    if missing := set(unknown.effect) - set(ids):
        wrong = f"acts on {min(missing)!r}, which is no option"
    elif any(np.shape(effect) not in {(), (hypotheses,)} for effect in unknown.effect.values()):
        wrong = "needs an effect that is one number, or one a hypothesis"
    elif not np.isfinite(unknown.mean) or not 0 <= unknown.sd < np.inf:
        wrong = "needs a finite mean and a standard deviation of 0 or more"
    # a lognormal law has no mean of 0 or below
    elif unknown.law == "positive" and unknown.mean <= 0:
        wrong = f"cannot be positive with a mean of {unknown.mean}"
    elif unknown.law == "chance" and not 0 < unknown.mean < 1:
        wrong = f"cannot be a chance with a mean of {unknown.mean}"
    # a Beta law's variance stays below m (1 - m), that of a coin
    elif unknown.law == "chance" and unknown.sd**2 >= unknown.mean * (1 - unknown.mean):
        wrong = f"is spread wider than a chance can be ({unknown.sd})"
    if wrong:
        raise InputError(f"the unknown {unknown.id!r} {wrong}", field=unknown.id)
