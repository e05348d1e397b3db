"""Whatever is recorded, refused, taken back, sent on: evidence only grows, and nothing refused is kept."""

import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, rule
from tests.workshop.small import CHECKS, FAMILY, INTAKE

from counterpoise.errors import ConflictError, CounterpoiseError
from counterpoise.workshop.jobs.entries import Closed, Decision, Finding, Note, Retraction
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

OUTCOMES = sorted(
    {outcome for check in CHECKS.values() for outcome in check.outcomes}
    | {"could_not_tell", "", "?"}
)
BODIES = st.one_of(
    st.builds(
        Finding,
        st.sampled_from([*CHECKS, "?"]),
        st.sampled_from(OUTCOMES),
        st.none() | st.floats(-5, 25),
        minutes=st.none() | st.floats(-1, 30),
    ),
    st.builds(Note, st.sampled_from(["", "hello"])),
    st.builds(
        Decision, st.sampled_from(["scrap", "part_out", "?"]), st.none() | st.integers(-5, 5)
    ),
    st.builds(Closed, st.sampled_from(["scrap", "?"])),
    st.builds(Retraction, st.integers(0, 12)),
    st.just(INTAKE),
)


class Evidence(RuleBasedStateMachine):
    """A workshop beside a plain list of what it acknowledged."""

    jobs = Bundle("jobs")

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.workshop = Workshop(Store(self.folder / "workshop.db"), {"small": FAMILY})
        self.told = {}

    def teardown(self):
        self.workshop.store.close()
        shutil.rmtree(self.folder)

    @rule(target=jobs)
    def take_in(self):
        job = self.workshop.jobs.open(INTAKE)
        self.told[job.number] = list(job.entries)
        return job.number

    @rule(number=jobs, body=BODIES)
    def record(self, number, body):
        try:
            self.told[number].append(self.workshop.jobs.record(number, body))
        except CounterpoiseError as error:
            event = str(error)
            assert event  # whatever is refused is refused in words

    @rule(number=jobs, seen=st.integers(0, 12))
    def record_after_looking(self, number, seen):
        last = len(self.told[number])
        try:
            self.told[number].append(self.workshop.jobs.record(number, Note("seen"), "", seen))
        except ConflictError:
            assert seen != last  # refused only where something was written in between
        else:
            assert seen == last

    @rule(target=jobs, number=jobs)
    def send_to_itself(self, number):
        copy = self.workshop.jobs.take_in(self.workshop.jobs.export(number))
        assert list(copy.entries) == self.told[number]
        self.told[copy.number] = list(copy.entries)
        return copy.number

    @rule()
    def open_again(self):
        self.workshop.store.close()
        self.workshop = Workshop(Store(self.folder / "workshop.db"), {"small": FAMILY})

    @invariant()
    def all_that_was_told_is_there_and_nothing_else(self):
        lines = {line.number: line for line in self.workshop.jobs.lines()}
        assert set(lines) == set(self.told)
        for number, entries in self.told.items():
            job = self.workshop.jobs.get(number)
            assert list(job.entries) == entries
            assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
            assert lines[number].open == (job.closed is None)
            assert lines[number].entries == len(entries)


TestEvidence = Evidence.TestCase
TestEvidence.settings = settings(
    max_examples=25, stateful_step_count=25, deadline=None, derandomize=True
)
