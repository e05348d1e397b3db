"""A job of twenty thousand entries comes in within seconds; years that cannot be meant do not."""

import time

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Closed, Entry, Finding, Job, Note, Retraction
from counterpoise.workshop.jobs.entry_json import body_to_json
from counterpoise.workshop.jobs.growing import GrowingJob, entry_of, stands

AT = "2026-03-01T09:00:00Z"


def _file(bodies, at=AT):
    entries = [
        {"number": number, "at": at, "by": "odo", "body": body_to_json(body)}
        for number, body in enumerate(bodies, 1)
    ]
    return {"format": "counterpoise-job", "version": 1, "number": 1, "entries": entries}


def _bodies(count):
    yield INTAKE
    yield Note("begun")
    for number in range(3, count + 1):
        yield (Finding("play", "some"), Note(f"n {number}"), Retraction(number - 1))[number % 3]


def test_twenty_thousand_entries_come_in_within_seconds(workshop):
    data = _file(_bodies(20_000))
    begun = time.process_time()
    job = workshop.jobs.take_in(data)
    assert time.process_time() - begun < 10
    assert len(workshop.jobs.get(job.number).entries) == 20_000
    (line,) = workshop.jobs.lines()
    assert line.entries == 20_000


def test_a_growing_job_says_what_a_job_says():
    bodies = [*_bodies(40), Closed("scrap"), Retraction(41), Closed("hand_back"), INTAKE]
    growing = GrowingJob()
    for number, body in enumerate(bodies, 1):
        growing.add(Entry(number, AT, "odo", body))
        whole = Job(0, tuple(growing.entries))
        assert growing.standing == whole.standing
        assert growing.intake == whole.intake
        assert growing.closed == whole.closed
        assert (growing.came_back, growing.parts_due) == (whole.came_back, whole.parts_due)
        for other in range(-1, number + 2):
            assert stands(growing, other) == stands(whole, other)
            assert entry_of(growing, other) == entry_of(whole, other)


def test_every_mistake_is_still_named_at_its_entry(workshop):
    bodies = [INTAKE, Note("a"), Retraction(2), Retraction(2), Finding("nothing", "some")]
    bodies += [Closed("scrap"), Finding("play", "some")]
    with pytest.raises(InputError) as caught:
        workshop.jobs.take_in(_file(bodies))
    said = str(caught.value)
    for at, words in ((3, "was taken back already"), (4, "nothing"), (6, "is closed")):
        assert f"entries[{at}].body: " in said
        assert words in said


@pytest.mark.parametrize("at", ["9999-12-31T23:59:59Z", "9999-12-31T23:59:59-12:00", "2200-01-01T00:00:00Z"])  # fmt: skip
def test_a_year_that_cannot_be_meant_is_refused(workshop, at):
    with pytest.raises(InputError, match=r"entries\[0\].at: .*not after 2199"):
        workshop.jobs.take_in(_file([INTAKE], at))
    assert workshop.jobs.lines() == []
    assert workshop.jobs.take_in(_file([INTAKE], "2199-12-31T23:59:59Z")).number == 1
