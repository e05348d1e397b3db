"""The border of a family file for sets: what condemns one whole, what spares it, what must hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Annotated

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.schema.messages import Amount, Text, Word, as_text, mistake
from counterpoise.catalog.schema.references import (
    CheckId,
    FaultKey,
    Known,
    Needs,
    PartId,
    Sourced,
    name_of,
)

if TYPE_CHECKING:
    from counterpoise.catalog.schema.yaml_tree import Tree

Table = Mapping[str, Mapping[str, object]]

RepairId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("repairs", "repair"))]
# check -> outcomes of it; that the outcomes exist is seen where the file is looked at as a whole
Shown = dict[CheckId, Annotated[list[Word], Field(min_length=1)]]


class SetModel(Sourced):
    """A set of parts: ``worn`` fault keys mean the whole, ``alone`` repairs renew one piece."""

    title: Text
    parts: Annotated[list[PartId], Field(min_length=1)]
    # a set that nothing wears needs no rule
    worn: Annotated[list[FaultKey], Field(min_length=1)]
    renew: Annotated[list[RepairId], Field(min_length=1)]
    put_back: list[RepairId] = Field(default_factory=list)
    alone: list[RepairId] = Field(default_factory=list)
    try_it: str = ""
    condemns: Shown = Field(default_factory=dict)
    others_good: Shown = Field(default_factory=dict)
    several: Shown = Field(default_factory=dict)
    young_years: Amount = 0.0
    needs: Needs = Field(default_factory=dict)

    @field_validator("alone", mode="after")
    @classmethod
    def _once(cls, alone: list[str], info: ValidationInfo) -> list[str]:
        others = {*info.data.get("renew", []), *info.data.get("put_back", [])}
        both = sorted(others & set(alone))
        if both:
            raise mistake(
                f"{', '.join(both)} renews one piece and does something else as well",
                "name a repair once: it renews the set, puts a piece back, or renews one piece",
            )
        return alone

    @field_validator("try_it", mode="after")
    @classmethod
    def _tried(cls, text: str, info: ValidationInfo) -> str:
        # a piece that goes back untried may be the one that lost its grip
        if info.data.get("put_back") and not text.strip():
            raise mistake(
                "a piece may go back, but not how it is tried",
                "say in try_it what is done before and after",
            )
        return text


def check_sets(tree: Tree, sets: Table, checks: Table, repairs: Table, known: Known) -> None:
    """Note each rule of a set that is broken: outcomes that are not there, cures that cannot be.

    A piece that lost its grip is not cured by putting it back, and whoever renews the whole set
    cures it. Raises nothing; broken entries are reported by the schema and passed over here.
    """
    for name, entry in sets.items():
        for field, check, outcome in _shown(entry):
            outcomes = checks.get(check, {}).get("outcomes")
            if isinstance(outcomes, dict) and outcome not in outcomes:
                text = f"sets.{name}.{field}.{check}: there is no outcome {outcome}"
                tree.add(("sets", name, field, check), text, f"use one of {', '.join(outcomes)}")
        worn = [key for one in _names(entry, "worn") for key in known.expand(one)]
        for field, must in (("put_back", False), ("renew", True)):
            for repair in _names(entry, field):
                cured = _cured(repairs.get(repair, {}), known)
                wrong = [key for key in worn if (key in cured) is not must]
                # one set may serve several faults: a repair that renews it need not cure them all
                if wrong and not (must and len(wrong) < len(worn)):
                    does = "does not cure" if must else "cures"
                    text = f"sets.{name}.{field}: {repair} {does} {wrong[0]}"
                    hint = "a piece that lost its grip means the set; mend cures, worn or the list"
                    tree.add(("sets", name, field), text, hint)


def _shown(entry: Mapping[str, object]) -> Iterator[tuple[str, str, str]]:
    for field in ("condemns", "others_good", "several"):
        table = entry.get(field)
        for check, outcomes in table.items() if isinstance(table, dict) else ():
            for outcome in outcomes if isinstance(outcomes, list) else ():
                yield field, str(check), str(outcome)


def _names(entry: Mapping[str, object], field: str) -> list[str]:
    value = entry.get(field)
    return [str(one) for one in value] if isinstance(value, list) else []


def _cured(repair: Mapping[str, object], known: Known) -> set[str]:
    cures = repair.get("cures")
    table = cures if isinstance(cures, dict) else {}
    return {key for name in table for key in known.expand(str(name))}
