"""What must hold of every set of parts, seen only where a family is looked at as a whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.catalog.references import Known
    from counterpoise.catalog.yaml_tree import Tree

Table = Mapping[str, Mapping[str, object]]


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
