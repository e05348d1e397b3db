"""The border of a family file for the machine: in what machines differ, and their figures."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from counterpoise.catalog.body import FASTEST_RPM
from counterpoise.catalog.schema.messages import (
    SUM_TOLERANCE,
    Entry,
    Text,
    Word,
    mistake,
    refuse,
    unknown,
)
from counterpoise.catalog.schema.references import Needs, Sourced
from counterpoise.catalog.schema.work import Row


class FeatureModel(Sourced):
    """A way in which machines differ; ``share`` of each value among those brought in sums to 1."""

    title: Text
    # one value only would tell no machines apart
    values: Annotated[dict[Word, Text], Field(min_length=2)]
    share: Row
    # only such machines differ in it; of all others the value is ``others``
    needs: Needs = Field(default_factory=dict)
    others: str = ""

    @field_validator("others", mode="after")
    @classmethod
    def _of_the_others(cls, others: str, info: ValidationInfo) -> str:
        values = info.data.get("values")
        if bool(others) != bool(info.data.get("needs")):
            raise mistake("needs and others go together", "give both or neither")
        if others and values is not None and others not in values:
            raise unknown("value", others, values)
        return others

    @field_validator("share", mode="after")
    @classmethod
    def _over_values(cls, share: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        values = info.data.get("values")
        if values is not None:
            refuse(
                ((name,), name, unknown("value", name, values))
                for name in share
                if name not in values
            )
        # an unknown feature is averaged over, so the shares must cover all machines
        if abs(sum(share.values()) - 1) > SUM_TOLERANCE:
            raise mistake(f"the shares sum to {sum(share.values()):g}", "make them sum to 1")
        return share


class FigureModel(Sourced):
    """A figure of one machine that a job can keep, between ``low`` and ``high`` in ``unit``.

    ``unit`` is empty for a plain number; ``values`` empty where any number between will do.
    """

    title: Text
    unit: str = ""
    low: float
    high: float
    where: str = ""
    whole: bool = False
    values: list[float] = Field(default_factory=list)
    twin: Word | None = None
    scale: Annotated[float, Field(gt=0)] = 1.0
    intake: bool = False
    needs: Needs = Field(default_factory=dict)

    @field_validator("high", mode="after")
    @classmethod
    def _above(cls, high: float, info: ValidationInfo) -> float:
        low = info.data.get("low")
        if low is not None and low >= high:
            raise mistake(
                f"low {low:g} is not below high {high:g}",
                "give the lowest and highest figure possible",
            )
        return high

    @field_validator("values", mode="after")
    @classmethod
    def _within(cls, values: list[float], info: ValidationInfo) -> list[float]:
        low, high = info.data.get("low"), info.data.get("high")
        outside = [
            v for v in values if low is not None and high is not None and not low <= v <= high
        ]
        if outside:
            raise mistake(
                f"{outside[0]:g} lies outside {low:g}..{high:g}", "widen the limits or leave it out"
            )
        return values


class FeetModel(Entry):
    """What a machine stands on; ``word`` as it stands in a sentence."""

    number: Annotated[int, Field(ge=1, le=12)]
    adjustable: bool
    word: Text = "feet"


class BodyModel(Sourced):
    """What turns and what opens, what it stands on, and the highest speed of any of the kind, rpm.

    ``top_rpm`` is null where it does not spin; ``tips``: it may be leaned or laid down.
    """

    turns: Text
    opens: Text
    feet: FeetModel
    top_rpm: Annotated[float, Field(ge=200, le=FASTEST_RPM)] | None
    tips: bool
