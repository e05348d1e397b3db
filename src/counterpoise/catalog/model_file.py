"""Read an abstract model from YAML (schema: ``docs/model.md``), or say all that is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.schema.cross_checks import note_cycles
from counterpoise.catalog.schema.messages import (
    Amount,
    Chance,
    Entry,
    as_text,
    mistake,
    read_entry,
    refuse,
    row_mistakes,
    show,
)
from counterpoise.catalog.schema.references import AccessId, FaultKey, Known
from counterpoise.catalog.schema.yaml_tree import Tree, parse_tree, read_tree
from counterpoise.errors import ModelError
from counterpoise.reasoning.model import (
    Access,
    Check,
    Ending,
    Fault,
    Model,
    PriorKind,
    Repair,
    Retest,
)

# below it a chance cannot be told from zero once it is shared among others (from memory)
LEAST_PRIOR = 1e-12


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


# YAML reads 'checks:' with nothing under it as null: a table without entries is meant
def _nothing(value: object) -> object:
    return {} if value is None else value


# 'dampers: 0.4' is the short form; anything else is left for the schema to judge
def _fault(value: object) -> object:
    return {"prior": value} if not isinstance(value, dict) else value


def _ending(value: object) -> object:
    """A plain number, alone or as ``value``, is the same whatever is wrong: the base."""
    if _number(value):
        return {"base": value}
    if not isinstance(value, dict):
        return value
    # an ending of value 0 by accident would change the advice without a word
    if not {"value", "base"} & value.keys():
        raise mistake(
            "the ending has no value",
            "write 'value: 10', or 'value: {fault: 10}' for a value by fault",
        )
    # beside a base, a plain number is a mistake that the schema names
    if _number(value.get("value")) and "base" not in value:
        return {("base" if key == "value" else key): inner for key, inner in value.items()}
    return value


# freer than the ids of a family: an abstract model has no addresses or commands
Id = Annotated[str, BeforeValidator(as_text), Field(min_length=1)]


class FaultIn(Entry):
    """A fault: its prior probability alone, or a table; ``alone``: never beside another."""

    prior: Chance
    # faults of one group exclude each other, as grades do
    group: Id | None = None
    alone: bool = False


class AccessIn(Entry):
    """A panel or position; ``behind``: what must be open before, None from outside."""

    open: Amount = 0.0
    close: Amount = 0.0
    behind: AccessId | None = None


class CheckIn(Entry):
    """A check: outcomes mildest first, probabilities by fault; ``cost`` in the model's unit."""

    cost: Amount
    access: AccessId | None = None
    outcomes: Annotated[list[Id], Field(min_length=2)]
    under: dict[FaultKey, dict[Id, Chance]] = Field(default_factory=dict)
    # the leak: probability of each outcome where no fault present shows in the check
    otherwise: dict[Id, Chance] = Field(default_factory=dict)
    # outcomes have no order: a row holds as it stands instead of by noisy-MAX
    exclusive: bool = False
    # no outcome is worse than another: with two faults the answer speaks of one of them
    unordered: bool = False
    # panels that stand open are closed for it
    shuts: bool = False

    @field_validator("outcomes", mode="after")
    @classmethod
    def _once(cls, outcomes: list[str]) -> list[str]:
        if len(set(outcomes)) != len(outcomes):
            raise mistake("an outcome is named twice", "name each outcome once")
        return outcomes

    @field_validator("under", mode="after")
    @classmethod
    def _rows(
        cls, under: dict[str, dict[str, float]], info: ValidationInfo
    ) -> dict[str, dict[str, float]]:
        outcomes = info.data.get("outcomes")
        rows = [(key, row_mistakes(row, outcomes)) for key, row in under.items()]
        refuse(((key, *loc), value, error) for key, found in rows for loc, value, error in found)
        return under

    @field_validator("otherwise", mode="after")
    @classmethod
    def _leak(cls, row: dict[str, float], info: ValidationInfo) -> dict[str, float]:
        refuse(row_mistakes(row, info.data.get("outcomes")))
        return row


class RepairIn(Entry):
    """A repair: ``cures`` is the probability, by fault, that it is gone afterwards."""

    cost: Amount
    access: AccessId | None = None
    cures: Annotated[dict[FaultKey, Chance], Field(min_length=1)]


class RetestIn(Entry):
    """What is paid after every repair; ``misses``: probability that a fault left goes unnoticed."""

    cost: Amount = 0.0
    # 1 would be a test that never finds anything
    misses: Annotated[float, Field(ge=0, lt=1)] = 0.0
    comeback: Amount = 0.0
    # panels are closed for it, and opened anew by who goes on after it failed
    shuts: bool = False


class EndingIn(Entry):
    """A way to stop: ``base`` is its value, plus ``value`` of each fault present (empty: none)."""

    base: float = 0.0
    value: dict[FaultKey, float] = Field(default_factory=dict)


class ModelIn(Entry):
    """The whole file; costs and values share one unit, minutes or EUR alike."""

    faults: Annotated[dict[Id, Annotated[FaultIn, BeforeValidator(_fault)]], Field(min_length=1)]
    prior: PriorKind = "exactly_one"
    # the number of hypotheses grows steeply with it, and more than three at once are rare
    max_faults: Annotated[int, Field(ge=1)] = 3
    nothing_wrong: bool = False
    access: Annotated[dict[Id, AccessIn], BeforeValidator(_nothing)] = Field(default_factory=dict)
    checks: Annotated[dict[Id, CheckIn], BeforeValidator(_nothing)] = Field(default_factory=dict)
    repairs: Annotated[dict[Id, RepairIn], BeforeValidator(_nothing)] = Field(default_factory=dict)
    # without one, repairs are believed to have worked as far as they cure
    retest: Annotated[RetestIn, BeforeValidator(_nothing)] = Field(default_factory=RetestIn)
    # value of a machine that passes, in the unit of the costs
    working: float = 0.0
    endings: Annotated[
        dict[Id, Annotated[EndingIn, BeforeValidator(_ending)]], BeforeValidator(_nothing)
    ] = Field(default_factory=dict)


def load_model(path: str | Path) -> Model:
    """The model of a file. Raises ModelError: every mistake as ``file:line: what; remedy``."""
    return _model(read_tree(Path(path)))


def parse_model(text: str, name: str = "model") -> Model:
    """The model of a text; errors as in :func:`load_model`, under the name given."""
    return _model(parse_tree(text.encode(), Tree(name)))


def _model(tree: Tree) -> Model:
    read = None
    if isinstance(tree.data, dict):
        # before the schema, so that both kinds of mistakes come in one report
        _whole(tree)
        read = read_entry(ModelIn, tree, (), _known(tree.data))
    elif not tree.problems:
        tree.add((), f"holds {show(tree.data)}, not a table", "begin with 'faults: {name: chance}'")
    if tree.problems or read is None:
        # duplicates are dropped by report(), so it is the report that is counted
        count = "1 mistake" if len(tree.report()) == 1 else f"{len(tree.report())} mistakes"
        raise ModelError(
            f"{count} found:\n" + "\n".join(f"  {problem}" for problem in tree.report())
        )
    try:
        return _build(read)
    # what only the model itself can tell, such as impossible evidence; it knows no lines
    except ModelError as error:
        raise ModelError(f"{tree.name}: {error}") from error


def _table(data: Mapping[str, object], section: str) -> dict[str, object]:
    table = data.get(section)
    return {str(key): entry for key, entry in table.items()} if isinstance(table, dict) else {}


def _known(data: Mapping[str, object]) -> Known:
    return Known(
        # no grades here: each fault stands for itself
        {"access": list(_table(data, "access"))},
        {name: [] for name in _table(data, "faults")},
        {},
    )


def _whole(tree: Tree) -> None:
    """Mistakes that show only when the model is looked at as a whole."""
    access = {
        name: entry
        for name, entry in _table(tree.data, "access").items()
        if isinstance(entry, dict)
    }
    note_cycles(tree, access)
    given = [
        entry.get("prior") if isinstance(entry, dict) else entry
        for entry in _table(tree.data, "faults").values()
    ]
    priors = [prior for prior in given if isinstance(prior, int | float)]
    # with a broken prior among them, the sum over the rest says nothing
    if priors and len(priors) == len(given):
        _priors(tree, priors)


def _priors(tree: Tree, priors: list[float]) -> None:
    if not any(prior > 0 for prior in priors):
        tree.add(("faults",), "faults: every prior is zero", "give at least one fault a chance")
    # shares of next to nothing are rounding, not chances
    elif max(priors) < LEAST_PRIOR:
        tree.add(
            ("faults",),
            f"faults: no prior reaches {LEAST_PRIOR:g}",
            "give chances that can be told from zero",
        )
    # odds of 1 / 0: the others could never be told apart from it
    if tree.data.get("prior") == "independent" and len(priors) > 1 and max(priors) == 1:
        tree.add(
            ("faults",),
            "faults: a prior of 1 among independent faults",
            "leave the certain fault out or lower it",
        )


def _build(read: ModelIn) -> Model:
    return Model(
        faults=tuple(
            Fault(name, one.prior, one.group, one.alone) for name, one in read.faults.items()
        ),
        prior=read.prior,
        max_faults=read.max_faults,
        nothing_wrong=read.nothing_wrong,
        access=tuple(
            Access(name, one.open, one.close, one.behind) for name, one in read.access.items()
        ),
        checks=tuple(
            Check(
                name,
                one.cost,
                tuple(one.outcomes),
                one.under,
                one.otherwise,
                one.access,
                one.exclusive,
                one.unordered,
                one.shuts,
            )
            for name, one in read.checks.items()
        ),
        repairs=tuple(
            Repair(name, one.cost, one.cures, one.access) for name, one in read.repairs.items()
        ),
        retest=Retest(
            read.retest.cost, read.retest.misses, read.retest.comeback, read.retest.shuts
        ),
        working=read.working,
        endings=tuple(Ending(name, one.base, one.value) for name, one in read.endings.items()),
    )
