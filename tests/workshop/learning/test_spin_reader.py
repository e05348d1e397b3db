"""The reader of spins goes by the workshop's own closed jobs with a recording."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.workshop.learning.jobs_of import (
    DAMPERS,
    DRUM,
    FAMILY,
    FEET,
    LOOKS,
    MEMORY,
    MENDS,
    SETTINGS,
    at,
    job_of,
)  # fmt: skip

from counterpoise.catalog.check_parts import RECORDING
from counterpoise.catalog.family import CheckEntry
from counterpoise.report.views.learned.view import learning_view
from counterpoise.report.views.recording import _set_by
from counterpoise.spin.causes.groups import GROUPS, PRIOR
from counterpoise.spin.causes.verdict import Verdict
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Closed, Finding, Job, Proof, RepairDone
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.learning.account import account_of
from counterpoise.workshop.learning.learn import facts_of_jobs, learn
from counterpoise.workshop.services.spin_evidence import as_closed_jobs_set_it
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

CAUSES = (DAMPERS, DRUM, FEET)
SHOWS = {DAMPERS: "dampers", DRUM: "rattle", FEET: "short_foot"}
RECORDED = CheckEntry(
    RECORDING, "Record a spin", "spin", 9, ("Tape the phone on.",), "What does it point to?",
    {"nothing_found": "Nothing", **{group: group for group in SHOWS.values()}},
    {cause: {group: 0.94} | {o: 0.02 for o in SHOWS.values() if o != group} for cause, group in SHOWS.items()},
    {}, MEMORY, exclusive=True, unordered=True,
)  # fmt: skip
HEARS = replace(FAMILY, checks=FAMILY.checks | {RECORDING: RECORDED})
TEMPERATURE = "spin.temperature"


def words(rng: np.random.Generator, cause: str, too_sure: float) -> tuple[float, ...]:
    """What a reader says of a cause, ``too_sure`` times as surely as it may."""
    shown = rng.normal(0, 1, 4) + 1.2 * (np.array(list(RECORDED.outcomes)) == SHOWS[cause])
    said = np.exp(too_sure * 1.2 * (shown - shown.max()))
    return tuple((said / said.sum()).tolist())


def recorded(
    too_sure: float, count: int, *, seen: bool = True, recording: str = "a" * 32
) -> list[Job]:
    rng, jobs = np.random.default_rng(11), []
    for number in range(1, count + 1):
        cause = CAUSES[rng.choice(3, p=[0.25, 0.45, 0.3])]
        heard = Finding(RECORDING, "", weights=words(rng, cause, too_sure), recording=recording)
        closed = Closed("repair_resell", (cause,)) if seen else Closed("scrap", likely=(cause,))
        done = (Finding(LOOKS[cause], "bad"), RepairDone(MENDS[cause]), Proof(passed=True))
        jobs.append(job_of(number, heard, *(done if seen else ()), closed))
    return jobs


def take_in(workshop: Workshop, too_sure: float, count: int) -> None:
    # one file stands for all: what counts are the words that were read of it
    kept = workshop.recordings.add("spin.csv", b"t,x,y,z")
    jobs = recorded(too_sure, count, recording=kept)
    workshop.jobs.add_all([JobFile(job.entries) for job in jobs])


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    with Store(tmp_path / "spins.db", clock=lambda: at(200)) as store:
        yield Workshop(store, {HEARS.id: HEARS})


def test_a_reader_too_sure_is_set_and_says_so(workshop: Workshop) -> None:
    take_in(workshop, 4.0, 60)
    view = learning_view(workshop, HEARS.id)
    assert view.reader[0] == "The reader of spins is set by your 60 closed jobs with a recording."
    row = next(each for each in view.rows if each.place == TEMPERATURE)
    assert row.text.startswith("1 by the catalog, ")
    assert row.low < row.here < row.high
    assert row.low < 4.0
    assert row.here > 1.5
    # in an open job the same recording says less, and its evidence stays as it was read
    said = (0.01, 0.97, 0.01, 0.01)
    open_job = job_of(1, Finding(RECORDING, "", weights=said, recording="a" * 32))
    plain = replay(HEARS, SETTINGS, open_job)
    family = workshop.family(HEARS.id)
    before, after = (
        float(np.exp(each.belief).sum(axis=0) @ each.model.mask(DAMPERS))
        for each in (plain, replay(family, SETTINGS, open_job))
    )
    assert after < before
    # a hand that tapped an answer is no reader
    tapped = job_of(1, Finding(RECORDING, "dampers"))
    assert replay(family, SETTINGS, tapped).evidence.readings[RECORDING][0].tolist() == [0, 1, 0, 0]
    groups = {g: 0.6 if g == "dampers" else 0.05 for g in GROUPS}
    odds = {g: p / PRIOR[g] for g, p in groups.items()}
    verdict = Verdict(
        groups, {g: o / max(odds.values()) for g, o in odds.items()}, False, "", False
    )
    now, jobs = as_closed_jobs_set_it(family, verdict)
    assert sum(now.groups.values()) == pytest.approx(1.0)
    assert now.ranked[0] == "dampers"
    assert now.groups["dampers"] < 0.6
    assert _set_by(jobs) == "The reader is set by your 60 closed jobs with a recording."
    assert as_closed_jobs_set_it(HEARS, verdict) == (verdict, 0)
    # taken back it is as it came, and so it is where learning is put off
    workshop.learning.take_back(HEARS.id, TEMPERATURE)
    assert not workshop.family(HEARS.id).checks[RECORDING].reader
    workshop.learning.give_back(HEARS.id, TEMPERATURE)
    assert workshop.family(HEARS.id).checks[RECORDING].reader["temperature"] == pytest.approx(
        row.here, rel=1e-3
    )
    workshop.learning.put_off(HEARS.id)
    assert not workshop.family(HEARS.id).checks[RECORDING].reader


def test_with_too_few_machines_it_stays_and_says_so(workshop: Workshop) -> None:
    take_in(workshop, 4.0, 11)
    view = learning_view(workshop, HEARS.id)
    assert view.reader == (
        "Closed jobs with a recording: 11.",
        "The reader of spins stays as it came until there are 12.",
    )
    assert not workshop.family(HEARS.id).checks[RECORDING].reader


def test_one_that_is_right_is_held_against_them_and_stays(workshop: Workshop) -> None:
    take_in(workshop, 1.0, 40)
    view = learning_view(workshop, HEARS.id)
    assert view.reader[-1].endswith("the reader stays as it came.")
    assert not any(each.place == TEMPERATURE for each in view.rows)


def test_what_was_only_called_likely_does_not_judge_the_reader() -> None:
    # whoever calls a cause likely has heard the recording: it must not prove itself
    echoes = recorded(4.0, 40, seen=False)
    account = account_of(HEARS, SETTINGS, echoes[0])
    assert account.beside is not None
    # all that is left says as much of every set of faults that the complaint allows
    left = account.beside[account.prior * account.heard > 0]
    assert left == pytest.approx(np.full_like(left, left[0]), rel=1e-6)
    assert not np.allclose(account.later, account.later[0])
    learned = learn(HEARS, SETTINGS, facts_of_jobs(HEARS, SETTINGS, echoes))
    assert learned.reader is not None
    assert not learned.reader.used


def test_a_row_is_not_blamed_for_the_reader() -> None:
    facts = facts_of_jobs(HEARS, SETTINGS, recorded(4.0, 60))
    places = {each.place: each for each in learn(HEARS, SETTINGS, facts).figures}
    blind = [replace(each, spins=()) for each in facts]
    both = {each.place: each for each in learn(HEARS, SETTINGS, blind).figures}
    row = f"checks.{RECORDING}.under.{DAMPERS}.dampers"
    # with the reader set, the row is nearer to what is written than it was without
    assert abs(places[row].moved) < abs(both[row].moved)
