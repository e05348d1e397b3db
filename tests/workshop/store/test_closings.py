"""Jobs by when they were closed: those asked for are read, and no other."""

import pytest
from tests.workshop.small import INTAKE

from counterpoise.workshop.jobs.comeback import closings
from counterpoise.workshop.jobs.entries import Closed, Entry, Finding, RepairDone, Retraction
from counterpoise.workshop.jobs.job_file import JobFile

CLOSED = Closed("scrap", ())


def job(store, *dated):
    """A job whose intake is of 2020 and whose other entries are of the months given."""
    entries = [Entry(1, "2020-01-01T09:00:00Z", "ada", INTAKE)]
    for month, body in dated:
        entries.append(Entry(len(entries) + 1, f"{month}-28T23:59:59Z", "ada", body))
    return store.jobs.add(JobFile(tuple(entries))).number


@pytest.fixture
def numbers(store):
    return {
        "march": job(
            store,
            ("2026-03", Finding("drum_by_hand", "with_tub")),
            ("2026-03", RepairDone("replace_dampers")),
            ("2026-03", CLOSED),
        ),
        "april": job(store, ("2026-03", Finding("drum_by_hand", "with_tub")), ("2026-04", CLOSED)),
        "open": job(store, ("2026-03", Finding("drum_by_hand", "with_tub"))),
        "back": job(
            store,
            ("2026-02", CLOSED),
            ("2026-04", Retraction(2, "knocks", comeback=True)),
            ("2026-05", CLOSED),
        ),
        "mistake": job(store, ("2026-06", CLOSED), ("2026-06", Retraction(2, "the wrong one"))),
    }


@pytest.mark.parametrize(
    ("first", "last", "names"),
    [
        ("2026-03", "2026-03", {"march"}),
        ("2026-03", "2026-04", {"march", "april"}),
        ("2026-02", "2026-02", {"back"}),
        ("2026-05", "2026-06", {"back", "mistake"}),
        ("2025-01", "2026-01", set()),
    ],
)
def test_the_jobs_of_some_months_come_whole_and_no_other_job(store, numbers, first, last, names):
    found = store.closings.in_months(first, last)
    assert [each.number for each in found] == sorted(numbers[name] for name in names)
    assert all(each == store.jobs.get(each.number) for each in found)


def test_the_months_come_last_first_and_count_what_was_taken_back(store, numbers):
    months = ["2026-06", "2026-05", "2026-04", "2026-03", "2026-02"]
    assert store.closings.months() == months
    assert store.closings.count() == (5, 2)
    job(store, ("2026-06", CLOSED))
    assert store.closings.count() == (6, 2)


def test_outlines_say_the_same_of_closings_as_whole_jobs(store, numbers):
    outlines = {each.number: each for each in store.closings.outlines()}
    assert set(outlines) == set(numbers.values()) - {numbers["open"]}
    for number, outline in outlines.items():
        whole = store.jobs.get(number)
        assert list(closings(outline)) == list(closings(whole))
        assert outline.intake == whole.intake
        assert not any(isinstance(each.body, Finding) for each in outline.entries)


def test_open_lines_are_the_lines_of_the_open_jobs(store, numbers):
    assert store.jobs.open_lines() == [line for line in store.jobs.lines() if line.open]
    assert {line.number for line in store.jobs.open_lines()} == {
        numbers["open"],
        numbers["mistake"],
    }
