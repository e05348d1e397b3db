"""The case book: stories with what a seasoned hand would suspect, do next, and never do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import SHIPPED, Catalog
from counterpoise.catalog.places import DATA, case_files
from counterpoise.catalog.schema.messages import (
    Amount,
    Entry,
    Text,
    as_text,
    instead,
    mistake,
    read_entry,
    refuse,
    show,
    unknown,
)
from counterpoise.catalog.schema.yaml_tree import Tree, read_tree
from counterpoise.errors import CatalogError

# the ways out that a plan can advise; a case may call any of them right or a blunder
ENDINGS = (
    "repair_resell",
    "repair_hand_back",
    "sell_as_is",
    "hand_back",
    "replace",
    "refer_on",
    "part_out",
    "scrap",
)


@dataclass(frozen=True, slots=True)
class Case:
    """One story; ``findings``: (check, outcome or reading) in order; ``decision``: the way out.

    ``do_next`` and ``blunder`` name checks, repairs and ways out that are right, or plainly wrong,
    as the next step. ``age_years`` and ``decision`` are None where the story does not say.
    ``nobody``: no owner to ask. ``since``: the version that wrote or changed it; ``written``:
    before or with the figures it is held against; ``mended``: what was changed because of it.
    """

    id: str
    title: str
    story: str
    family: str
    owner: Literal["customer", "workshop"]
    complaints: tuple[str, ...]
    suspect_first: tuple[str, ...]
    do_next: tuple[str, ...]
    # what a hand would say to an apprentice; shown beside a wrong answer
    why: str
    source: str
    age_years: float | None = None
    features: Mapping[str, str] = field(default_factory=dict)
    findings: tuple[tuple[str, str | float], ...] = ()
    # what costs money or hurts somebody: naming it as the next step fails the case
    blunder: tuple[str, ...] = ()
    decision: str | None = None
    nobody: bool = False
    since: str = ""
    written: str = ""
    mended: tuple[str, ...] = ()


def _known(info: ValidationInfo) -> Family:
    # without its family no name of a case can be checked: an error of the program, not of the file
    if not isinstance(info.context, Family):
        raise TypeError("a case is validated with its family")
    return info.context


def _steps(names: list[str], info: ValidationInfo) -> list[str]:
    family = _known(info)
    # a next step may be a check, a repair or a way out, all in one list as a hand would say it
    known = [*family.checks, *family.repairs, *ENDINGS]
    refuse(
        ((place,), name, unknown("check, repair or way out", name, known))
        for place, name in enumerate(names)
        if name not in known
    )
    return names


# a case that suspects nothing or does nothing next would test nothing
Names = Annotated[list[str], Field(min_length=1)]


# validated in the order of the fields: a later field may look at an earlier one
class CaseIn(Entry):
    """A case as written: ``age`` in years, ``findings`` a reading or an outcome by check."""

    title: Text
    story: Text
    family: str
    age: Amount | None = None
    owner: Literal["customer", "workshop"]
    # a machine from the kerb may come without any
    complaints: list[str] = Field(default_factory=list)
    nobody: bool = False
    features: dict[str, Annotated[str, BeforeValidator(as_text)]] = Field(default_factory=dict)
    # text or number, by what the check asks for: _findings decides with the check at hand
    findings: dict[str, Any] = Field(default_factory=dict)
    suspect_first: Names
    do_next: Names
    blunder: list[str] = Field(default_factory=list)
    # only where the evidence of the story is enough to end the job
    decision: Literal[ENDINGS] | None = None  # type: ignore[valid-type]  # the tuple is constant
    why: Text
    # a story fitted to the figures proves less than one that the figures had to meet
    since: str = ""
    written: Literal["", "before the figures", "with the figures"] = ""
    mended: list[Text] = Field(default_factory=list)
    # published sources have no cases; a made-up story says so
    source: Literal["from memory", "common practice", "workshop", "invented"]

    @field_validator("nobody", mode="after")
    @classmethod
    def _heard(cls, nobody: bool, info: ValidationInfo) -> bool:  # pydantic's way
        if not nobody and not info.data.get("complaints"):
            raise mistake("no complaint is heard", "name one, or say 'nobody: true'")
        return nobody

    @field_validator("complaints", mode="after")
    @classmethod
    def _complaints(cls, names: list[str], info: ValidationInfo) -> list[str]:
        return _among(names, "complaint", _known(info).complaints)

    @field_validator("suspect_first", mode="after")
    @classmethod
    def _faults(cls, names: list[str], info: ValidationInfo) -> list[str]:
        return _among(names, "fault", _known(info).faults)

    @field_validator("do_next", "blunder", mode="after")
    @classmethod
    def _next(cls, names: list[str], info: ValidationInfo) -> list[str]:
        both = (
            # do_next is validated before blunder, as the fields stand in this order
            set(names) & set(info.data.get("do_next", []))
            if info.field_name == "blunder"
            else set()
        )
        if both:
            raise mistake(
                f"{', '.join(sorted(both))} is right and a blunder at once", "decide for one"
            )
        return _steps(names, info)

    @field_validator("features", mode="after")
    @classmethod
    def _features(cls, given: dict[str, str], info: ValidationInfo) -> dict[str, str]:
        known = _known(info).features
        # names first: a value can only be judged beside a feature that exists
        _among(list(given), "feature", known)
        refuse(
            ((name,), value, unknown(f"value of {name}", value, known[name].values))
            for name, value in given.items()
            if value not in known[name].values
        )
        return given

    @field_validator("findings", mode="after")
    @classmethod
    def _findings(cls, given: dict[str, object], info: ValidationInfo) -> dict[str, object]:
        family = _known(info)
        # names first: the entry of an unknown check cannot be looked up below
        _among(list(given), "check", family.checks)
        refuse(
            (
                (check,),
                shown,
                unknown(f"outcome of {check}", show(shown), family.checks[check].outcomes),
            )
            for check, shown in given.items()
            if not _possible(family, check, shown)
        )
        return given


def _possible(family: Family, check: str, shown: object) -> bool:
    entry = family.checks[check]
    if isinstance(shown, str):
        # 'cannot tell' is no finding of a story: a case leaves such a check out
        return shown in entry.outcomes
    # true is an int in Python, and no reading
    number = isinstance(shown, int | float) and not isinstance(shown, bool)
    return (
        number
        and entry.reading is not None
        # a reading beyond the limits of the check is a slip of the pen
        and entry.reading.low <= float(str(shown)) <= entry.reading.high
    )


def _among(names: list[str], kind: str, known: Mapping[str, object]) -> list[str]:
    refuse(
        ((place,), name, unknown(kind, name, known))
        for place, name in enumerate(names)
        if name not in known
    )
    return names


@lru_cache(maxsize=1)
def shipped_cases() -> tuple[Case, ...]:
    """The stories of all shipped families, family by family, as they stand in their books.

    Raises CatalogError that names every mistake with its line.
    """
    return tuple(case for path in case_files(DATA).values() for case in load_cases(path))


def known_cases(known: Catalog) -> tuple[tuple[Case, ...], tuple[str, ...]]:
    """The stories of all families, shipped and the workshop's own, and what is wrong with some.

    A book with a mistake, or of a family that is broken, is left out whole.
    """
    cases: list[Case] = []
    problems: list[str] = []
    for family, path in known.case_books():
        if family not in known:
            problems.append(f"{path.name}:1: there is no sound family {family}; mend its file")
            continue
        try:
            cases += load_cases(path, known)
        # one broken book must not take the others away
        except CatalogError as error:
            problems += error.problems
    return tuple(cases), tuple(problems)


def load_cases(path: Path, known: Mapping[str, Family] = SHIPPED) -> tuple[Case, ...]:
    """All cases of a case book, of families that are ``known`` by id.

    Raises CatalogError that names every mistake with its line.
    """
    # written by hand: what a seasoned hand would do is a book's only authority
    tree = read_tree(path)
    # an unreadable file leaves no table; its mistakes are reported below all the same
    cases: list[Case] = []
    if isinstance(tree.data, dict):
        cases = [case for name in tree.data if (case := _case(tree, name, known)) is not None]
    elif not tree.problems:
        tree.add((), f"holds {show(tree.data)}, not a table of cases", "write 'id: {...}' lines")
    if tree.problems:
        raise CatalogError(tree.report())
    return tuple(cases)


def _case(tree: Tree, name: str, known: Mapping[str, Family]) -> Case | None:
    entry = tree.data[name]
    family = entry.get("family") if isinstance(entry, dict) else None
    # the family is the context of every other field: without it nothing can be said
    if family not in known:
        tree.add(
            (name, "family"),
            f"{name}.family: there is no family {show(family)}",
            instead(family, known),
        )
        return None
    read = read_entry(CaseIn, tree, (name,), known[str(family)])
    return _build(str(name), read) if read else None


def _build(name: str, read: CaseIn) -> Case:
    return Case(
        id=name,
        title=read.title,
        # line breaks of the YAML file are no part of the story
        story=" ".join(read.story.split()),
        family=read.family,
        owner=read.owner,
        complaints=tuple(read.complaints),
        suspect_first=tuple(read.suspect_first),
        do_next=tuple(read.do_next),
        why=" ".join(read.why.split()),
        source=read.source,
        age_years=read.age,
        features=read.features,
        findings=tuple(read.findings.items()),
        blunder=tuple(read.blunder),
        decision=read.decision,
        nobody=read.nobody,
        since=read.since,
        written=read.written,
        mended=tuple(read.mended),
    )
