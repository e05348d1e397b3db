"""Whatever comes as a job's file is read as a job or refused with its mistakes; a true one comes back."""

import copy
import json
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.workshop.properties.test_entry_json import BODIES, JSON, TEXT
from tests.workshop.small import INTAKE

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Entry, Job
from counterpoise.workshop.jobs.entry_json import photo_ids, recording_ids
from counterpoise.workshop.jobs.job_file import (
    JobFile,
    RecordingMetadata,
    digest,
    job_file_to_json,
)
from counterpoise.workshop.jobs.job_file_reader import (
    LATEST_YEAR,
    LEAST_RPM,
    MOST_RPM,
    MOST_SOUND_START_S,
    job_file_from_json,
)

# a year beyond is refused, with a test of its own
FIRST = datetime(1, 1, 1, tzinfo=UTC)
SECONDS = int((datetime(LATEST_YEAR, 12, 31, tzinfo=UTC) - FIRST).total_seconds())
TIMES = st.integers(0, SECONDS).map(
    lambda after: f"{FIRST + timedelta(seconds=after):%Y-%m-%dT%H:%M:%SZ}".rjust(20, "0")
)
METADATA = st.builds(
    RecordingMetadata,
    st.none() | st.floats(LEAST_RPM, MOST_RPM),
    st.just(""),
    st.none() | st.floats(-MOST_SOUND_START_S, MOST_SOUND_START_S),
)


@st.composite
def job_files(draw):
    """A job of an intake and entries that point at no files, with recordings beside them."""
    bodies = [INTAKE, *draw(st.lists(BODIES.filter(lambda b: not files_of(b)), max_size=3))]
    entries = tuple(
        Entry(n, draw(TIMES), draw(TEXT), body)
        for n, body in enumerate(bodies, 1)
        if type(body).__name__ != "Retraction"
    )
    data = draw(st.lists(st.binary(min_size=1, max_size=40), max_size=2, unique=True))
    recordings = {digest(each): (draw(TEXT), each) for each in data}
    return JobFile(
        tuple(Entry(n, e.at, e.by, e.body) for n, e in enumerate(entries, 1)),
        recordings=recordings,
        metadata={key: draw(METADATA) for key in recordings},
    )


def read(data):
    """(job file, None), or (None, the mistake)."""
    try:
        return job_file_from_json(data), None
    except InputError as error:
        return None, error


def files_of(body):
    return photo_ids(body) or recording_ids(body)


@settings(max_examples=40, deadline=None)
@given(job_files())
def test_a_job_comes_back_from_its_file_as_it_was(job_file):
    written = job_file_to_json(Job(7, job_file.entries), job_file)
    again = job_file_from_json(json.loads(json.dumps(written)))
    assert (again.entries, again.recordings) == (job_file.entries, job_file.recordings)
    assert again.metadata == job_file.metadata


@settings(max_examples=60, deadline=None)
@given(
    JSON
    | st.fixed_dictionaries(
        {"format": st.just("counterpoise-job"), "version": st.just(1)},
        optional={
            "number": JSON,
            "entries": JSON
            | st.lists(st.dictionaries(st.sampled_from(["number", "at", "by", "body"]), JSON)),
            "photos": JSON | st.dictionaries(st.text(max_size=4), JSON, max_size=2),
            "recordings": JSON | st.dictionaries(st.text(max_size=4), JSON, max_size=2),
        },
    )
)
def test_anything_else_is_refused_in_words(data):
    job_file, mistake = read(data)
    assert job_file.entries if mistake is None else str(mistake)


@settings(max_examples=40, deadline=None)
@given(job_files(), st.data())
def test_a_file_with_a_piece_cut_out_of_it_is_a_job_or_a_mistake(job_file, data):
    written = json.loads(json.dumps(job_file_to_json(Job(7, job_file.entries), job_file)))
    spoilt = copy.deepcopy(written)
    entry = data.draw(st.sampled_from(spoilt["entries"]))
    place = data.draw(st.sampled_from([entry, entry["body"]]))
    del place[data.draw(st.sampled_from(sorted(place)))]
    again, mistake = read(spoilt)
    if mistake is None:
        # what was cut out stood at its default, or names nobody
        assert len(again.entries) == len(job_file.entries)
    else:
        assert "entries[" in str(mistake)
