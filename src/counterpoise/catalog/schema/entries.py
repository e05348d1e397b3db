"""The border of a family file: what each entry may hold.

Money is integer minor units, times minutes, chances 0..1.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, TypeVar

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.schema.drawing import DrawingModel
from counterpoise.catalog.schema.machine import BodyModel, FeatureModel, FigureModel
from counterpoise.catalog.schema.messages import (
    SUM_TOLERANCE,
    Amount,
    Chance,
    Entry,
    Reason,
    Text,
    Word,
    as_text,
    mistake,
    refuse,
    unknown,
)
from counterpoise.catalog.schema.money import MoneyModel
from counterpoise.catalog.schema.references import (
    AccessId,
    Cautions,
    ComplaintId,
    FaultId,
    FaultKey,
    GroupId,
    Needs,
    PartId,
    PlaceId,
    SketchId,
    Sourced,
    known_to,
    named_twice,
)
from counterpoise.catalog.schema.sets import SetModel
from counterpoise.catalog.schema.work import (
    CheckModel,
    Minor,
    People,
    RepairModel,
    SameThingModel,
    Steps,
    Tools,
)

if TYPE_CHECKING:
    from collections.abc import Mapping


class SourceModel(Entry):
    """An entry of ``sources.yaml``; ``detail`` is empty where the title says all."""

    title: Text
    detail: str = ""


class CautionModel(Sourced):
    """What stands before a step that can hurt someone."""

    # the sentence as it stands before the step; the checks see to it that it does
    text: Text
    mark: str = Field(default="", max_length=30)
    grave: bool = False
    # words of steps, titles and tools that must not stand without it
    words: list[Text] = Field(default_factory=list)
    sketch: SketchId = ""


class ComplaintModel(Sourced):
    """What an owner may say; ``leak``: probability of hearing it without any fault."""

    title: Text
    leak: Chance
    # the thing it is said of, where several complaints are of one thing
    kin: str = ""
    place: PlaceId = ""


T = TypeVar("T")
# a change to the machine as physics: KEY, KEY:SEVERITY or KEY:SEVERITY:PART
Twin = Annotated[str, BeforeValidator(as_text), Field(pattern=r"^[a-z_]+(:(0\.\d+|1)(:\d+)?)?$")]


class GradeModel(Entry):
    """How far a fault has gone; ``share`` of the machines that have it, summing to 1."""

    title: Text
    share: Chance


def _by_grade(table: object) -> object:
    """Complaints are given for the fault or by grade; inside always by grade ("": whole fault)."""
    if (
        not isinstance(table, dict)
        or not table
        or all(isinstance(row, dict) for row in table.values())
    ):
        return table
    if any(isinstance(row, dict) for row in table.values()):
        raise mistake(
            "some rows are by grade and some are not", "give all complaints by grade, or none"
        )
    # the empty grade: build_family turns it into the bare fault
    return {"": table}


class FaultModel(Sourced):
    """A fault."""

    title: Text
    means: Text
    assembly: Word
    # below 1: the odds of a certain fault are infinite
    prior: Annotated[float, Field(ge=0, lt=1)]
    grades: dict[Word, GradeModel] = Field(default_factory=dict)
    # years to factor on the odds; none: as likely in a young machine as in an old one
    age: dict[Annotated[float, Field(ge=0)], Amount] = Field(default_factory=dict)
    complaints: Annotated[dict[str, dict[ComplaintId, Chance]], BeforeValidator(_by_grade)] = Field(
        default_factory=dict
    )
    needs: Needs = Field(default_factory=dict)
    alone: bool = False
    write_off: bool = False
    twin: Twin | None = None
    # by grade, where a grade is another machine than the fault's own
    twins: dict[Word, Twin] = Field(default_factory=dict)
    spin_group: Word | None = None
    brings: dict[FaultId, Annotated[float, Field(gt=0)]] = Field(default_factory=dict)
    # the reason, said wherever the machine would be switched on, or handed on unrepaired
    must_not_run: Reason = ""
    must_not_leave: Reason = ""
    place: PlaceId = ""

    @field_validator("grades", mode="after")
    @classmethod
    def _whole(cls, grades: dict[str, GradeModel]) -> dict[str, GradeModel]:
        total = sum(grade.share for grade in grades.values())
        if grades and abs(total - 1) > SUM_TOLERANCE:
            raise mistake(f"the shares of the grades sum to {total:g}", "make them sum to 1")
        return grades

    @field_validator("age", mode="after")
    @classmethod
    def _ascending(cls, age: dict[float, float]) -> dict[float, float]:
        # interpolated in file order, so the order must be that of time
        if any(one >= two for one, two in pairwise(age)):
            raise mistake("the years are not ascending", "write them from young to old")
        return age

    @field_validator("complaints", "twins", mode="after")
    @classmethod
    def _grades_exist(cls, table: dict[str, T], info: ValidationInfo) -> dict[str, T]:
        grades = info.data.get("grades")
        # None: the grades are broken and reported already
        if grades is not None:
            refuse(
                ((name,), name, unknown("grade", name, grades))
                for name in table
                if name and name not in grades
            )
        return table


class AccessModel(Sourced):
    """A panel or position; opening and closing in minutes."""

    title: Text
    open_min: Amount
    close_min: Amount
    behind: AccessId | None = None
    people: People = 1
    steps: Steps = Field(default_factory=list)
    tools: Tools = Field(default_factory=list)
    cautions: Cautions = Field(default_factory=list)
    needs: Needs = Field(default_factory=dict)
    tips: bool = False
    place: PlaceId = ""
    sketch: SketchId = ""


class PartModel(Sourced):
    """A part one can buy, priced in minor units; ``used_minor`` None where not sold used."""

    title: Text
    price_minor: Minor
    assembly: GroupId
    used_minor: Minor | None = None
    # such as 'only as a set': said on the estimate, not computed with
    rule: str = ""
    with_parts: list[PartId] = Field(default_factory=list)
    each: bool = False


class AssemblyModel(Sourced):
    """What parting out yields, in minor units, for ``minutes`` of work."""

    title: Text
    value_minor: Minor
    minutes: Amount
    spoiled_by: dict[FaultKey, Chance] = Field(default_factory=dict)
    needs: Needs = Field(default_factory=dict)

    @field_validator("spoiled_by", mode="after")
    @classmethod
    def _spoiled(cls, table: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        refuse(named_twice(table, known_to(info)))
        return table


class ProofModel(Sourced):
    """The run that proves a repair; ``misses``: probability of passing with a fault left."""

    # what it is called; empty: "Proof spin", or "Proof run" where nothing spins
    title: str = ""
    minutes: Amount
    misses: Annotated[float, Field(ge=0, lt=1)]
    steps: Annotated[Steps, Field(min_length=1)]
    cautions: Cautions = Field(default_factory=list)


class HeadModel(Entry):
    """The entries of a file that stand alone; the sections are read entry by entry."""

    # the id that stored jobs name: it outlives the file's name
    family: Word
    title: Text
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    typical_mass_kg: Annotated[float, Field(gt=0)]
    twin_needs: Needs = Field(default_factory=dict)
    body: BodyModel | None = None
    # what tables of others call it; the first is the name of jobs taken in from there
    called: list[Text] = Field(default_factory=list)
    money: MoneyModel | None = None
    proof: ProofModel
    drawing: DrawingModel | None = None


# in the order in which a reader meets them in a file
SECTIONS: Mapping[str, type[Entry]] = {
    "cautions": CautionModel,
    "complaints": ComplaintModel,
    "features": FeatureModel,
    "figures": FigureModel,
    "faults": FaultModel,
    "access": AccessModel,
    "checks": CheckModel,
    "repairs": RepairModel,
    "parts": PartModel,
    "assemblies": AssemblyModel,
    "sets": SetModel,
    "same_thing": SameThingModel,
}
OPTIONAL = frozenset({"figures", "sets", "same_thing"})  # sections that a file may do without
