"""Give our counts to other workshops, take theirs, leave; and how the pool stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.catalog.loader import Catalog, families, load_family
from counterpoise.errors import InputError
from counterpoise.workshop.learning.learn import learn
from counterpoise.workshop.learning.pool.contribution import (
    Contribution,
    Counts,
    read_contributions,
    rounded,
)
from counterpoise.workshop.learning.pool.figures import counted, pooled, written_shares
from counterpoise.workshop.learning.pool.records import (
    RecordCounts,
    count_records,
    read_mapping,
    with_records,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class PoolState:
    """How a pool stands: the workshops in it, those that left, those left out and why.

    ``figures``: how many figures each family starts from by others. ``given``: the revision we
    gave last, 0 for none; ``left``: we have taken our share out.
    """

    workshops: tuple[str, ...]
    gone: tuple[str, ...]
    left_out: Mapping[str, str]
    figures: Mapping[str, int]
    given: int
    left: bool


def state(workshop: Workshop) -> PoolState:
    """How the pool stands. Raises InputError where a file of it is damaged."""
    pool = workshop.learning.pool
    given, out, own = pool.others(), pool.left_out(), pool.own()
    counts = {
        key: sum(1 for _ in pool.starts(workshop.learning.written(key)))
        for key in sorted({family for each in given for family in each.families})
        if key in workshop.families
    }
    return PoolState(
        tuple(each.workshop for each in given if not each.left and each.workshop not in out),
        tuple(each.workshop for each in given if each.left),
        out,
        counts,
        0 if own is None else own.revision,
        own is not None and own.left,
    )


def give(workshop: Workshop) -> Contribution:
    """Our counts, signed; the same file again where nothing is new. Raises InputError."""
    counts, quarters = {}, []
    for key in workshop.families:
        # a family's own ids and outcomes are words of this workshop
        shipped = _shipped(workshop, key)
        if shipped is None:
            continue
        places = _places(workshop, key, shipped)
        if places:
            counts[key] = places
            quarters.append(_quarter(workshop.learning.closed_facts(key)[-1].closed_at))
    if not counts:
        raise InputError(
            "There is nothing to give yet: too few closed jobs of a family",
            remedy="'counterpoise learning' says how many are missing",
        )
    return _next(workshop, counts, max(quarters), left=False)


def leave(workshop: Workshop) -> Contribution:
    """What takes our share out wherever it is taken in. Raises InputError where none was given."""
    own = workshop.learning.pool.own()
    if own is None:
        raise InputError("Nothing was given that could be taken out")
    return _next(workshop, {}, own.quarter, left=True)


def take(workshop: Workshop, texts: list[str], *, dry: bool = False) -> list[Contribution]:
    """Take in what others gave; returns what was new. Raises InputError; then nothing is kept."""
    given = [each for text in texts for each in read_contributions(text)]
    # everything was read and its signature checked before anything is kept
    if dry:
        return given
    pool = workshop.learning.pool
    new = pool.take(given)
    for key in sorted({family for each in pool.others() for family in each.families}):
        if key in workshop.families:
            workshop.learning.jobs_changed(key)
    if any(each.left for each in new):
        # a share that went may have been the only one of its families
        for key in workshop.families:
            if workshop.learning.state(key).figures:
                workshop.learning.jobs_changed(key)
    return new


@dataclass(frozen=True, slots=True)
class RecordsPreview:
    """What a table of records would change: (place, in use now, with it), the largest first."""

    counted: RecordCounts
    changes: tuple[tuple[str, float, float], ...]


def preview_records(workshop: Workshop, table: str, mapping: str) -> RecordsPreview:
    """What a table would change by its mapping; keeps nothing. Raises InputError."""
    counted_records = count_records(table, read_mapping(mapping, dict(workshop.families)))
    key, pool = counted_records.family, workshop.learning.pool
    written, facts = workshop.learning.written(key), workshop.learning.closed_facts(key)
    kept = [each for each in pool.records() if each.name != counted_records.name]
    starts = pool.starts(written)
    # on top of what workshops gave, and of the other tables
    base = pooled(written, [e for e in pool.others() if e.workshop not in pool.left_out()])
    after = with_records(written, base, [*kept, counted_records])
    before, then = (
        {f.place: f for f in learn(written, workshop.settings(), facts, starts=each).figures}
        for each in (starts, after)
    )
    changes = [
        (place, before[place].here if place in before else figure.written, figure.here)
        for place, figure in then.items()
    ]
    moved = [each for each in changes if f"{each[1]:.4g}" != f"{each[2]:.4g}"]
    moved.sort(key=lambda each: (-abs(each[2] - each[1]), each[0]))
    return RecordsPreview(counted_records, tuple(moved))


def take_records(workshop: Workshop, preview: RecordsPreview) -> None:
    """Let a table count from now on. Raises StoreError."""
    workshop.learning.pool.keep_records(preview.counted)
    workshop.learning.jobs_changed(preview.counted.family)


def drop_records(workshop: Workshop, name: str) -> None:
    """Let a table count no more. Raises InputError where there is none of this name."""
    workshop.learning.jobs_changed(workshop.learning.pool.drop_records(name).family)


def _next(
    workshop: Workshop, counts: dict[str, dict[str, Counts]], quarter: str, *, left: bool
) -> Contribution:
    pool, own = workshop.learning.pool, workshop.learning.pool.own()
    # a file that says nothing new needs no number of its own
    if own and (own.families, own.quarter, own.left) == (counts, quarter, left):
        return own
    revision = 1 if own is None else own.revision + 1
    given = Contribution(pool.name(), revision, quarter, left, counts).signed(pool.key())
    pool.keep_own(given)
    return given


def _shipped(workshop: Workshop, key: str) -> Family | None:
    """The family as shipped; None for one of the workshop's own, whose very ids are its words."""
    catalog = workshop.families.catalog
    if not isinstance(catalog, Catalog):
        return workshop.learning.written(key)
    return load_family(key) if key in families() and not catalog.origins()[key].own else None


def _places(workshop: Workshop, key: str, shipped: Family) -> dict[str, Counts]:
    written, known = workshop.learning.written(key), written_shares(shipped)
    facts = workshop.learning.closed_facts(key)
    # by the catalog alone: what others gave must not come back to them as ours
    learned = learn(written, workshop.settings(), facts)
    pool_key, places = workshop.learning.pool.key(), {}
    for place, yes, of in counted(written, learned.figures):
        pair = rounded(yes, of, pool_key, f"{key}|{place}")
        if place in known and pair is not None and pair[1]:
            places[place] = pair
    return places


def _quarter(at: str) -> str:
    return f"{at[:4]}-Q{(int(at[5:7]) + 2) // 3}"


__all__ = [
    "PoolState", "RecordsPreview", "drop_records", "give", "leave", "preview_records", "state",
    "take", "take_records",
]  # fmt: skip
