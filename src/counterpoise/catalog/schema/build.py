"""From checked models to the frozen records of a family; nothing can go wrong any more here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from counterpoise.catalog.body import Body, Stand
from counterpoise.catalog.drawing import Drawing, DrawnPlace, Shape
from counterpoise.catalog.family import (
    AccessEntry,
    AssemblyEntry,
    Caution,
    CheckEntry,
    Complaint,
    Family,
    FaultEntry,
    Feature,
    Grade,
    PartEntry,
    PartSet,
    Reading,
    RepairEntry,
    SameThing,
    Source,
)
from counterpoise.catalog.family_money import MoneyEntry
from counterpoise.catalog.figure_entry import FigureEntry
from counterpoise.catalog.schema.messages import Entry
from counterpoise.catalog.schema.references import GENERAL_SOURCES, Known, Sourced

if TYPE_CHECKING:
    from counterpoise.catalog.changed_figure import ChangedFigure
    from counterpoise.catalog.schema.drawing import DrawingModel
    from counterpoise.catalog.schema.entries import HeadModel, SourceModel

Value = TypeVar("Value")
Sections = Mapping[str, Mapping[str, Entry]]


def build_family(
    head: HeadModel, sections: Sections, known: Known, sources: Mapping[str, SourceModel]
) -> Family:
    """Put the records of a family together, probabilities spread over fault keys (``id:grade``)."""
    body = _body(head)
    return Family(
        id=head.family,
        title=head.title,
        currency=head.currency,
        typical_mass_kg=head.typical_mass_kg,
        twin_needs=head.twin_needs,
        money=None if head.money is None else MoneyEntry(**_flat(head.money)),
        # the proof stays flat: a family has one, and every plan asks for its figures
        proof_minutes=head.proof.minutes,
        proof_misses=head.proof.misses,
        proof_steps=tuple(head.proof.steps),
        proof_cautions=tuple(head.proof.cautions),
        proof_source=head.proof.provenance,
        proof_title=head.proof.title or ("Proof spin" if body.spins else "Proof run"),
        body=body,
        drawing=None if head.drawing is None else _drawing(head.drawing),
        called=tuple(name.casefold() for name in head.called),
        # every record keeps its source as text; the titles behind the keys are looked up here
        sources=_sources(sources),
        cautions={
            key: Caution(id=key, **_flat(entry)) for key, entry in sections["cautions"].items()
        },
        complaints={
            key: Complaint(id=key, **_flat(entry)) for key, entry in sections["complaints"].items()
        },
        features={
            key: Feature(id=key, **_flat(entry)) for key, entry in sections["features"].items()
        },
        figures={
            key: FigureEntry(id=key, **_flat(entry)) for key, entry in sections["figures"].items()
        },
        # file order is kept everywhere: it is the index order of beliefs and of printed lists
        faults={key: _fault(key, entry, known) for key, entry in sections["faults"].items()},
        access={
            key: AccessEntry(id=key, **_flat(entry)) for key, entry in sections["access"].items()
        },
        checks={key: _check(key, entry, known) for key, entry in sections["checks"].items()},
        repairs={
            # a repair named for the bare fault cures each grade with the same probability
            key: _spread(RepairEntry, key, entry, "cures", known)
            for key, entry in sections["repairs"].items()
        },
        parts={key: PartEntry(id=key, **_flat(entry)) for key, entry in sections["parts"].items()},
        assemblies={
            # a fault spoils an assembly at every grade unless the file tells them apart
            key: _spread(AssemblyEntry, key, entry, "spoiled_by", known)
            for key, entry in sections["assemblies"].items()
        },
        sets={key: _set(key, entry, known) for key, entry in sections["sets"].items()},
        same_thing={
            key: SameThing(id=key, **_flat(entry)) for key, entry in sections["same_thing"].items()
        },
    )


def _body(head: HeadModel) -> Body:
    # a workshop's own file may leave it out; what is assumed then is said by the checks
    if head.body is None:
        return Body()
    plain = _flat(head.body)
    return Body(**plain | {"feet": Stand(**_flat(head.body.feet))})


def _drawing(model: DrawingModel) -> Drawing:
    places = {
        key: DrawnPlace(
            id=key,
            title=entry.title,
            at=tuple(entry.at),
            panel=entry.panel,
            shapes=tuple(
                Shape(shape.kind, tuple(shape.numbers), shape.look, shape.needs)
                for shape in entry.shapes
            ),
        )
        for key, entry in model.places.items()
    }
    return Drawing(model.title, model.high, places, model.provenance)


def with_changes(family: Family, changes: tuple[ChangedFigure, ...]) -> Family:
    """The family with what a workshop changed of it said in the source of each entry."""
    parts: dict[str, Any] = {}
    for change in changes:
        section, _, rest = change.place.partition(".")
        entry, _, field = rest.partition(".")
        # what stands alone has its source, if any, under a name of its own
        if not rest or section == "proof":
            before = parts.get("proof_source", family.proof_source)
            parts |= {"proof_source": f"{before}; {entry}: {change.text}"} if rest else {}
            continue
        held = parts.get(section, getattr(family, section))
        # a table of entries, or one entry by itself (the body)
        if isinstance(held, Mapping):
            source = f"{held[entry].source}; {field}: {change.text}"
            parts[section] = {**held, entry: replace(held[entry], source=source)}
        else:
            parts[section] = replace(held, source=f"{held.source}; {rest}: {change.text}")
    return replace(family, changes=changes, **parts)


def _sources(sources: Mapping[str, SourceModel]) -> dict[str, Source]:
    # a file's own sources win over the general ones of the same key
    general = {key: Source(key, title) for key, title in GENERAL_SOURCES.items()}
    return general | {key: Source(key, entry.title, entry.detail) for key, entry in sources.items()}


def _flat(entry: Entry) -> dict[str, Any]:
    """The fields of a model as plain values: lists as tuples, the source as one line."""
    # not model_dump: nested models stay models, so that each record builds its own parts
    plain = {name: getattr(entry, name) for name in type(entry).model_fields}
    plain = {
        name: tuple(value) if isinstance(value, list) else value for name, value in plain.items()
    }
    # grades, readings and sources themselves carry none of their own
    if isinstance(entry, Sourced):
        plain["source"] = entry.provenance
    return plain


def expand(table: Mapping[str, Value], known: Known) -> dict[str, Value]:
    """A table by fault key, where a bare fault with grades stands for each of them.

    Raises nothing: the schema has refused a key given twice.
    """
    # a row for a fault without its grade holds for every grade alike
    return {key: value for name, value in table.items() for key in known.expand(name)}


def _spread(record: type[Value], key: str, entry: Entry, field: str, known: Known) -> Value:
    plain = _flat(entry)
    plain[field] = expand(plain[field], known)
    return record(id=key, **plain)  # type: ignore[call-arg]  # both records have an id


def _set(key: str, entry: Entry, known: Known) -> PartSet:
    plain = _flat(entry)
    # a bare fault stands for each of its grades, as in every table
    plain["worn"] = tuple(
        dict.fromkeys(one for name in plain["worn"] for one in known.expand(name))
    )
    for shown in ("condemns", "others_good", "several"):
        plain[shown] = {check: tuple(outcomes) for check, outcomes in plain[shown].items()}
    return PartSet(id=key, **plain)


def _fault(key: str, entry: Entry, known: Known) -> FaultEntry:
    plain = _flat(entry)
    plain["grades"] = tuple(
        Grade(id=name, **_flat(grade)) for name, grade in plain["grades"].items()
    )
    # frozen records hold no dictionaries that somebody could change
    plain["age"] = tuple(plain["age"].items())
    rows = plain["complaints"].items()
    # the schema keeps complaints by grade; records keep them by fault key, as checks do
    by_grade = {f"{key}:{grade}" if grade else key: row for grade, row in rows}
    plain["complaints"] = expand(by_grade, known)
    return FaultEntry(id=key, **plain)


def _check(key: str, entry: Entry, known: Known) -> CheckEntry:
    plain = _flat(entry)
    # a missing row means that the fault leaves the check to its leak alone
    plain["under"] = expand(plain["under"], known)
    # a machine spins with the current on
    plain["runs"] = plain["runs"] or plain["kind"] == "spin"
    # a check without a reading is answered in words
    if plain["reading"] is not None:
        plain["reading"] = Reading(**_flat(plain["reading"]))
    return CheckEntry(id=key, **plain)
