"""The border of a family file for work: what a check, its reading and a repair may hold.

Money is integer minor units, times minutes, chances 0..1.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.body import MEASUREMENTS
from counterpoise.catalog.schema.messages import (
    Amount,
    Chance,
    Entry,
    Text,
    Word,
    mistake,
    refuse,
    row_mistakes,
    unknown,
)
from counterpoise.catalog.schema.references import (
    AccessId,
    Cautions,
    CheckId,
    FaultKey,
    FeatureId,
    Needs,
    PartId,
    PlaceId,
    SketchId,
    Sourced,
    known_to,
    named_twice,
)

# outcome -> probability; what is left over belongs to the first outcome
Row = dict[Word, Chance]
Minor = Annotated[int, Field(ge=0)]
# more than four hands find no room around a machine (common practice)
People = Annotated[int, Field(ge=1, le=4)]
Steps = list[Text]
Tools = list[Text]


def _measurement(name: str) -> str:
    kind, _, number = name.partition(".")
    if kind and kind not in MEASUREMENTS:
        raise unknown("measurement", kind, MEASUREMENTS)
    if number and number not in MEASUREMENTS[kind]:
        raise unknown(f"number of {kind}", number, MEASUREMENTS[kind])
    return name


Measurement = Annotated[str, AfterValidator(_measurement)]


class ReadingModel(Entry):
    """A number that a check asks for; ``edges`` and ``sd`` in its unit, edges sorted upwards."""

    quantity: Text
    unit: str
    # limits between outcomes, in the unit of the reading
    edges: Annotated[list[float], Field(min_length=1)]
    low: float
    high: float
    # 0 would make a reading on an edge decide everything
    sd: Annotated[float, Field(gt=0)]
    falling: bool = False

    @field_validator("edges", mode="after")
    @classmethod
    def _ascending(cls, edges: list[float]) -> list[float]:
        if any(one >= two for one, two in pairwise(edges)):
            raise mistake(f"the edges {edges} are not ascending", "write them from low to high")
        return edges

    @field_validator("high", mode="after")
    @classmethod
    def _around(cls, high: float, info: ValidationInfo) -> float:
        low, edges = info.data.get("low"), info.data.get("edges")
        if low is not None and low >= high:
            raise mistake(
                f"low {low:g} is not below high {high:g}",
                "give the lowest and highest reading possible",
            )
        # every outcome must be reachable by some reading
        if low is not None and edges and not (low < edges[0] and edges[-1] < high):
            raise mistake("an edge lies outside low..high", "widen the limits or move the edge")
        return high


class Work(Sourced):
    """What checks and repairs share: ``minutes`` at the bench, not counting ``access``."""

    title: Text
    minutes: Amount
    people: People = 1
    tools: Tools = Field(default_factory=list)
    access: AccessId | None = None
    cautions: Cautions = Field(default_factory=list)
    needs: Needs = Field(default_factory=dict)
    # work that nobody could carry out is no work
    steps: Annotated[Steps, Field(min_length=1)]
    # the machine is switched on for it; a spin always runs it
    runs: bool = False
    # where in the drawing it is done, and the small drawing beside it
    place: PlaceId = ""
    sketch: SketchId = ""


class CheckModel(Work):
    """A check: outcomes mildest first, their probabilities by fault; the leak in ``otherwise``.

    One that ``tells`` a feature has its values as outcomes, and says nothing of faults.
    """

    kind: Literal["ask", "look", "feel", "measure", "spin"]
    question: Text
    # before the outcomes, which are then the values of this feature
    tells: FeatureId | None = None
    # chance that another value is reported than the machine has
    error: Annotated[float, Field(ge=0, lt=0.5)] = 0.0
    # with one outcome a check could tell nothing
    outcomes: Annotated[dict[Word, Text], Field(min_length=2)]
    under: Annotated[dict[FaultKey, Row], Field(default_factory=dict, validate_default=True)]
    otherwise: Row = Field(default_factory=dict)
    exclusive: bool = False
    unordered: bool = False
    # asked at the counter: must need no tool and no opening
    intake: bool = False
    reading: ReadingModel | None = None
    # the measurement by hand that it is; KIND.NUMBER where its reading is another than the usual
    measures: Measurement = ""
    # both as usual where they are not given
    slip: Annotated[float, Field(ge=0, lt=1)] | None = None
    same_again: Chance | None = None
    # the check that comes before it, where it is a second, closer look
    after: CheckId | None = None

    @field_validator("outcomes", mode="after")
    @classmethod
    def _values(cls, outcomes: dict[str, str], info: ValidationInfo) -> dict[str, str]:
        feature = info.data.get("tells")
        if feature is None:
            return outcomes
        values = known_to(info).values.get(feature, [])
        if list(outcomes) != values:
            raise mistake(
                f"the outcomes are not the values of {feature}",
                f"write them as {', '.join(values)}",
            )
        # what cannot be mistaken would outweigh everything else that was found
        if not info.data.get("error"):
            raise mistake(
                "nobody is always right", "give 'error': the chance that the wrong one is reported"
            )
        return outcomes

    @field_validator("under", mode="after")
    @classmethod
    def _rows(cls, under: dict[str, Row], info: ValidationInfo) -> dict[str, Row]:
        # None where they are broken; then the rows pass and only the outcomes are reported
        outcomes, feature = info.data.get("outcomes"), info.data.get("tells")
        if under and feature is not None:
            raise mistake(
                f"it tells the {feature} and the faults", "make two checks of it, or drop one"
            )
        if not under and feature is None and "tells" in info.data:
            raise mistake("it tells nothing", "give 'under' by fault, or 'tells' a feature")
        found = named_twice(under, known_to(info))
        for key, row in under.items():
            found += [
                ((key, *loc), value, error) for loc, value, error in row_mistakes(row, outcomes)
            ]
        refuse(found)
        return under

    @field_validator("otherwise", mode="after")
    @classmethod
    def _leak(cls, row: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        outcomes = info.data.get("outcomes")
        refuse(row_mistakes(row, outcomes))
        return row

    @field_validator("reading", mode="after")
    @classmethod
    def _edges(cls, reading: ReadingModel | None, info: ValidationInfo) -> ReadingModel | None:
        outcomes = info.data.get("outcomes")
        if reading is not None and outcomes is not None and len(reading.edges) != len(outcomes) - 1:
            count = len(reading.edges)
            text = f"{count} edges part a reading into {count + 1}, not {len(outcomes)} outcomes"
            raise mistake(text, "give one edge less than there are outcomes")
        return reading


class RepairModel(Work):
    """A repair: probability of curing each fault key, pieces of parts, money in minor units."""

    # nothing is certain: 1 is allowed, and a hand will seldom write it
    cures: Annotated[dict[FaultKey, Chance], Field(min_length=1)]
    parts: dict[PartId, Annotated[int, Field(ge=1)]] = Field(default_factory=dict)
    consumables_minor: Minor = 0
    done_when: str = ""

    @field_validator("cures", mode="after")
    @classmethod
    def _cures(cls, cures: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        refuse(named_twice(cures, known_to(info)))
        if not any(chance > 0 for chance in cures.values()):
            raise mistake("it cures nothing", "give a chance above 0, or leave the repair out")
        return cures


# below 1: a group that is always misled would teach nothing
Misled = Annotated[float, Field(ge=0, lt=1)]


class SameThingModel(Sourced):
    """Checks that look at one thing; ``misled``: chance that all of them are led astray at once.

    ``complaints``: what the owner complained of belongs to the group as well.
    """

    title: Text
    checks: Annotated[list[CheckId], Field(min_length=1)]
    misled: Misled
    complaints: bool = False

    @field_validator("checks", mode="after")
    @classmethod
    def _each_once(cls, checks: list[str]) -> list[str]:
        twice = [name for name in checks if checks.count(name) > 1]
        if twice:
            raise mistake(f"{twice[0]} is named twice", "name each check once")
        return checks
