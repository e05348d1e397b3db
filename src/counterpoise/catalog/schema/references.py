"""Names in a family file: which are known, what a fault key stands for, where a figure is from.

The names known to the file are the validation context (:class:`Known`), so a wrong name is found
together with every other mistake of its entry.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.drawing import SKETCHES
from counterpoise.catalog.schema.messages import Entry, Mistake, as_text, mistake, refuse, unknown

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

# every figure has a source; these are the ones that need no entry of their own
GENERAL_SOURCES = {
    "common practice": "Common practice of the trade",
    "from memory": "Recalled, not looked up",
    "workshop": "Learned from the workshop's own closed jobs",
    "invented": "Invented for the demonstration",
}
REST = "otherwise"  # in a source by field: all fields not named
Mistakes = list[Mistake]


@dataclass(slots=True)
class Known:
    """All names of a file: ids by section, the grades of each fault, the values of each feature."""

    ids: Mapping[str, list[str]] = field(default_factory=dict)
    # every fault has a key here, those without grades an empty list
    grades: Mapping[str, list[str]] = field(default_factory=dict)
    values: Mapping[str, list[str]] = field(default_factory=dict)

    @property
    def fault_keys(self) -> list[str]:
        """Every name a table of faults may use: ids, then ``id:grade``; empty without faults."""
        return [
            *self.grades,
            *(f"{fault}:{grade}" for fault, grades in self.grades.items() for grade in grades),
        ]

    def expand(self, key: str) -> list[str]:
        """The fault keys a name stands for: a bare fault with grades stands for every grade."""
        return [f"{key}:{grade}" for grade in self.grades.get(key, [])] or [key]


def known_to(info: ValidationInfo) -> Known:
    """The names passed in with a validation. Raises TypeError where none were: a program error."""
    if not isinstance(info.context, Known):
        raise TypeError("a family is validated with the names known to it")
    return info.context


def name_of(section: str, word: str) -> Callable[[str, ValidationInfo], str]:
    """A validator that refuses a name the section does not have; ``word`` says of what it is."""

    def check(name: str, info: ValidationInfo) -> str:
        known = known_to(info)
        # a table over faults may name a grade, every other reference is a bare id
        names = known.fault_keys if section == "faults" else known.ids[section]
        if name not in names:
            raise unknown(word, name, names)
        return name

    return check


FaultKey = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("faults", "fault"))]
# a fault whatever its grade
FaultId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("fault_ids", "fault"))]
AccessId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("access", "access"))]
# references validate by name, so a wrong one is reported where it stands
CheckId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("checks", "check"))]
CautionId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("cautions", "caution"))]
ComplaintId = Annotated[
    str, BeforeValidator(as_text), AfterValidator(name_of("complaints", "complaint"))
]
PartId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("parts", "part"))]
# an assembly with an entry, or one that only faults name
GroupId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("groups", "assembly"))]
FeatureId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("features", "feature"))]
SourceId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("sources", "source"))]


def _place(name: str, info: ValidationInfo) -> str:
    # a family without a drawing may name places all the same: they are then listed in words
    names = known_to(info).ids.get("places", [])
    if name and names and name not in names:
        raise unknown("place", name, names)
    return name


def _sketch(name: str) -> str:
    if name and name not in SKETCHES:
        raise unknown("small drawing", name, SKETCHES)
    return name


# a place of the drawing, and a small drawing beside a step; empty for none
PlaceId = Annotated[str, BeforeValidator(as_text), AfterValidator(_place)]
SketchId = Annotated[str, AfterValidator(_sketch)]


def _needs(needs: dict[str, str], info: ValidationInfo) -> dict[str, str]:
    known = known_to(info)
    refuse(
        ((feature,), value, unknown(f"value of {feature}", value, known.values.get(feature, [])))
        # an unknown feature has no values here and was refused by its own type already
        for feature, value in needs.items()
        if value not in known.values.get(feature, [])
    )
    return needs


def named_twice(table: Mapping[str, object], known: Known) -> Mistakes:
    """Grades that a table names both by the bare fault and on their own; empty where none."""
    mistakes: Mistakes = []
    given: dict[str, str] = {}
    for key in table:
        for one in known.expand(key):
            if one in given:
                text = f"{one} is given by {given[one]} and by {key}"
                mistakes.append(
                    (
                        (key,),
                        key,
                        mistake(text, "name a grade once: by the bare fault or on its own"),
                    )
                )
            # the later name is the one reported, since the reader comes from above
            given[one] = key
    return mistakes


# one source for all fields is kept under the empty name
def _by_field(source: object) -> object:
    return {"": source} if isinstance(source, str) else source


Needs = Annotated[dict[FeatureId, Annotated[str, BeforeValidator(as_text)]], AfterValidator(_needs)]
Sources = Annotated[dict[str, SourceId], BeforeValidator(_by_field), Field(min_length=1)]
Cautions = list[CautionId]


class Sourced(Entry):
    """An entry that says where its figures are from: one source, or one a field, never empty."""

    source: Sources

    @field_validator("source", mode="after")
    @classmethod
    def _fields_exist(cls, source: dict[str, str]) -> dict[str, str]:
        names = [REST, *(name for name in cls.model_fields if name != "source")]
        refuse(
            ((name,), name, unknown("field", name, names))
            for name in source
            # 'under.weak' may name a row: only the field has to exist
            if name and name.split(".")[0] not in names
        )
        return source

    @property
    def provenance(self) -> str:
        """The sources in one line, such as ``prior: tecchio2019; otherwise: from memory``."""
        return "; ".join(
            f"{name}: {source}" if name else source for name, source in self.source.items()
        )
