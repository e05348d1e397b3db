"""Repair records of others as weak evidence: a mapping says what their categories are of ours.

A record names a category of trouble, not what somebody saw in a machine. So it counts as a part of
a job, as the mapping says, and all of them together never more than the catalog's own figure.
"""

from __future__ import annotations

import csv
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from io import StringIO
from typing import Any

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.learning.pooling import Start
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.learning.pool.figures import written_shares
from counterpoise.workshop.learning.strengths import FAULT

_FIELDS = {"name", "family", "weight", "source", "fault_column", "kind_column", "kinds", "faults"}
_NEEDED = ("name", "family", "weight", "source", "fault_column", "faults")


@dataclass(frozen=True, slots=True)
class RecordMapping:
    """What a table's categories are of ours: of each the share of its records that is each fault.

    ``weight`` is how much of a job a record counts as, ``source`` where that is from. Only rows
    whose ``kind_column`` holds one of ``kinds`` are taken; all where it is empty.
    """

    name: str
    family: str
    weight: float
    source: str
    fault_column: str
    kind_column: str
    kinds: tuple[str, ...]
    faults: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class RecordCounts:
    """A table counted: ``of`` records used, by fault how many; ``left_out`` by category."""

    name: str
    family: str
    weight: float
    source: str
    of: int
    faults: Mapping[str, float]
    left_out: Mapping[str, int]


def read_mapping(text: str, families: Mapping[str, Family]) -> RecordMapping:
    """Read a mapping (TOML). Raises InputError that names the field."""
    try:
        body = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"The mapping is no TOML: {error}", field="mapping") from error
    for name in _NEEDED:
        if name not in body:
            raise InputError(f"The mapping does not say {name}", field=name)
    if unknown := set(body) - _FIELDS:
        name = min(unknown)
        raise InputError(
            f"The mapping has a field {name!r}", field=name, remedy=did_you_mean(name, _FIELDS)
        )
    family = families.get(str(body["family"]))
    if family is None:
        raise InputError(
            f"family: there is no {body['family']!r}",
            field="family",
            remedy=f"Name one of {', '.join(families)}",
        )
    weight = body["weight"]
    # a record is never worth more than a job that somebody here has closed
    if isinstance(weight, bool) or not isinstance(weight, int | float) or not 0 < weight <= 1:
        raise InputError(f"weight: {weight!r} is no number above 0 up to 1", field="weight")
    name = str(body["name"])
    if not name.replace("-", "").isalnum() or not name.isascii() or len(name) > 40:
        raise InputError(f"name: {name[:60]!r} is not letters, digits and dashes", field="name")
    return RecordMapping(
        name, family.id, float(weight), str(body["source"]), str(body["fault_column"]),
        str(body.get("kind_column", "")), tuple(map(str, body.get("kinds", ()))),
        _faults(body["faults"], family),
    )  # fmt: skip


def _faults(body: object, family: Family) -> dict[str, dict[str, float]]:
    if not isinstance(body, dict) or not body:
        raise InputError("faults: what the categories are is needed", field="faults")
    return {category: _shares(category, given, family) for category, given in body.items()}


def _shares(category: str, given: Any, family: Family) -> dict[str, float]:
    # a word alone: all of the category; an empty table: none of ours, but a record all the same
    shares = {given: 1.0} if isinstance(given, str) else given
    field = f"faults.{category}"
    if not isinstance(shares, dict):
        raise InputError(f"{field}: a fault, or shares of faults, are needed", field=field)
    for fault, share in shares.items():
        if fault not in family.faults:
            raise InputError(
                f"{field}: {fault!r} is no fault of {family.id}",
                field=field,
                remedy=did_you_mean(fault, family.faults),
            )
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0 < share <= 1:
            raise InputError(f"{field}: {share!r} is no share above 0 up to 1", field=field)
    # a record is of one trouble
    if sum(shares.values()) > 1.0 + 1e-9:
        raise InputError(f"{field}: the shares add up to more than 1", field=field)
    return {fault: float(share) for fault, share in shares.items()}


def count_records(text: str, mapping: RecordMapping) -> RecordCounts:
    """Count a table (CSV). Raises InputError where columns are missing or nothing is of use."""
    reader = csv.DictReader(StringIO(text, newline=""), restkey="", restval="")
    wanted = [mapping.fault_column, *filter(None, [mapping.kind_column])]
    for name in wanted:
        if name not in (reader.fieldnames or ()):
            raise InputError(
                f"The table has no column {name!r}",
                field=name,
                remedy=did_you_mean(name, reader.fieldnames or ()),
            )
    categories: Counter[str] = Counter()
    try:
        for row in reader:
            if not mapping.kind_column or row[mapping.kind_column].strip() in mapping.kinds:
                categories[row[mapping.fault_column].strip()] += 1
    except csv.Error as error:
        raise InputError(f"Line {reader.line_num} cannot be read: {error}", field="file") from error
    # what the mapping does not name might be anything: it is no record of "none of these" either
    used = {each: n for each, n in categories.items() if each in mapping.faults}
    if not used:
        raise InputError(
            "No record of the table is of a kind and category that the mapping names",
            field="faults",
        )
    # every fault that is named anywhere is counted, those that no record had with 0
    faults = {fault: 0.0 for shares in mapping.faults.values() for fault in shares}
    for category, n in used.items():
        for fault, share in mapping.faults[category].items():
            faults[fault] += n * share
    left = {each: n for each, n in sorted(categories.items()) if each not in used}
    return RecordCounts(
        mapping.name, mapping.family, mapping.weight, mapping.source, sum(used.values()),
        faults, left,
    )  # fmt: skip


def with_records(
    family: Family, starts: Mapping[str, Start], counted: Sequence[RecordCounts]
) -> dict[str, Start]:
    """What figures start from when records are added; what no mapping names stays as it was."""
    shares, after = written_shares(family), dict(starts)
    for each in counted:
        # thousands of records are not thousands of looks: never more than what is written
        weight = min(each.weight, FAULT / max(each.of, 1))
        for fault, yes in each.faults.items():
            place = f"faults.{fault}.prior"
            if each.family != family.id or place not in shares:
                continue
            start = after.get(place) or Start(*shares[place], 0)
            worth = start.worth + weight * each.of
            mean = (start.mean * start.worth + weight * yes) / worth
            after[place] = replace(start, mean=mean, worth=worth, records=start.records + each.of)
    return after


__all__ = ["RecordCounts", "RecordMapping", "count_records", "read_mapping", "with_records"]
