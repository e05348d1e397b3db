"""Recordings: kept where they can be read, put down as evidence, sent piece by piece by a phone."""

import gzip
from dataclasses import replace

import pytest
from tests.spin.shared import recording_file
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.catalog.check_parts import RECORDING, TEST_LOAD
from counterpoise.catalog.family import CheckEntry
from counterpoise.catalog.loader import load_family
from counterpoise.errors import ConflictError, InputError, NotFoundError, RecordingError
from counterpoise.spin import proof as spin_proof
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.workshop.jobs.entries import Finding, Note, Proof
from counterpoise.workshop.services.spin_evidence import (
    AS_IT_CAME,
    NOTHING_BEFORE,
    entry_of,
    latest_before,
    latest_healthy,
    record_spin,
    spin_evidence,
)
from counterpoise.workshop.services.uploads import FILE_NAME, HEADER
from counterpoise.workshop.services.workshop import Workshop

SPIN = recording_file("r002").read_bytes()
AFTER = recording_file("r003").read_bytes()
SHORT = b"t,x,y,z\n" + b"".join(b"%.2f,0,0,9.81\n" % (i / 50) for i in range(500))
SPIN_CHECK = CheckEntry(
    RECORDING, "Record a spin", "spin", 9, ("Tape the phone on.",), "What does it say?",
    {group: group for group in GROUPS}, {}, {}, "invented",
)  # fmt: skip
LISTENING = replace(FAMILY, checks=FAMILY.checks | {RECORDING: SPIN_CHECK})
UPLOAD = "a" * 32


@pytest.fixture
def listening(store):
    return Workshop(store, {"small": LISTENING})


@pytest.fixture
def number(listening):
    return listening.jobs.open(INTAKE, "ada").number


class TestKeeping:
    def test_it_is_kept_as_it_came_with_the_speed_that_was_told(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), 1100.0)
        assert listening.recordings.get(key) == ("spin.csv.gz", SPIN)
        assert listening.recordings.metadata(key).top_rpm == 1100.0

    def test_a_path_is_no_name_and_a_file_without_one_gets_one(self, listening, number):
        key = listening.recordings.keep(number, ("/tmp/a/spin.csv.gz", SPIN), None)
        assert listening.recordings.get(key)[0] == "spin.csv.gz"
        key = listening.recordings.keep(number, ("", AFTER), None)
        assert listening.recordings.get(key)[0] == "recording.csv"

    def test_what_cannot_be_read_is_not_kept(self, listening, number):
        with pytest.raises(RecordingError):
            listening.recordings.keep(number, ("spin.csv", b"no recording at all"), None)
        with pytest.raises(NotFoundError):
            listening.recordings.keep(99, ("spin.csv.gz", SPIN), None)

    def test_a_speed_told_with_it_is_used_where_none_is_given(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        reading = listening.recordings.reading(key)
        assert reading is listening.recordings.reading(key)
        assert reading.course.top_rpm > 0

    def test_a_sound_that_cannot_be_read_leaves_the_recording_alone(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        with pytest.raises(RecordingError):
            listening.recordings.add_sound(number, key, ("spin.wav", b"RIFF no sound"))
        assert listening.recordings.metadata(key).sound == ""
        with pytest.raises(NotFoundError):
            listening.recordings.add_sound(number, "nothing", ("spin.wav", b"RIFF"))


class TestEvidence:
    def test_before_a_repair_it_is_a_finding_with_unrounded_weights(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        evidence = spin_evidence(listening, number, key, "before")
        entry = record_spin(listening, evidence, 9.0, "by hand", "ada", 1)
        body = listening.jobs.get(number).entries[-1].body
        assert (entry.number, body.check, body.recording) == (2, RECORDING, key)
        assert body.note == f"{evidence.sentence} by hand"
        likelihood = evidence.verdict.likelihood
        total = sum(likelihood.values())
        assert body.weights == tuple(likelihood[group] / total for group in SPIN_CHECK.outcomes)
        assert sum(body.weights) == pytest.approx(1.0, abs=1e-12)

    def test_with_the_test_load_it_answers_a_check_of_its_own(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        evidence = spin_evidence(listening, number, key, "tied")
        with pytest.raises(InputError, match="test load is no check of this family"):
            entry_of(LISTENING, evidence)
        tied = replace(SPIN_CHECK, id=TEST_LOAD)
        family = replace(LISTENING, checks=LISTENING.checks | {TEST_LOAD: tied})
        body = entry_of(family, evidence, 19.0)
        assert (body.check, body.recording) == (TEST_LOAD, key)
        assert len(body.weights) == len(tied.outcomes)

    def test_after_a_repair_without_one_from_before_it_cannot_tell(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", AFTER), None)
        evidence = spin_evidence(listening, number, key, "after")
        assert evidence.proof.sentence == NOTHING_BEFORE
        body = entry_of(LISTENING, evidence, note="hm")
        assert isinstance(body, Note)
        assert body.text == f"Proof spin recorded: cannot tell. {NOTHING_BEFORE} hm"

    def test_after_a_repair_it_is_compared_with_the_latest_from_before(self, listening, number):
        before = listening.recordings.keep(number, ("before.csv.gz", SPIN), None)
        record_spin(listening, spin_evidence(listening, number, before, "before"))
        assert latest_before(listening.jobs.get(number)) == before
        after = listening.recordings.keep(number, ("after.csv.gz", AFTER), None)
        evidence = spin_evidence(listening, number, after, "after")
        body = entry_of(LISTENING, evidence, 12.0)
        assert evidence.proof.rows
        if evidence.proof.result == spin_proof.CANNOT_TELL:
            assert isinstance(body, Note)
        else:
            assert isinstance(body, Proof)
            assert body.passed == (evidence.proof.result == spin_proof.PASS)
            assert " before, " in body.note

    def test_a_recording_is_never_compared_with_itself(self, listening, number):
        key = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        record_spin(listening, spin_evidence(listening, number, key, "before"))
        again = spin_evidence(listening, number, key, "after")
        assert again.proof.sentence == NOTHING_BEFORE

    def test_that_of_the_sound_machine_is_a_baseline_from_then_on(self, listening, number):
        key = listening.recordings.keep(number, ("sound.csv.gz", AFTER), None)
        evidence = spin_evidence(listening, number, key, "sound")
        assert not evidence.verdict.with_baseline
        record_spin(listening, evidence, note="new dampers")
        body = listening.jobs.get(number).entries[-1].body
        assert body.healthy
        assert body.text.endswith("sound.csv.gz. new dampers")
        assert latest_healthy(listening.jobs.get(number)) == key
        other = listening.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        assert spin_evidence(listening, number, other, "before").verdict.with_baseline

    def test_one_too_short_to_say_anything_is_put_down_as_such(self, listening, number):
        key = listening.recordings.keep(number, ("short.csv", SHORT), None)
        evidence = spin_evidence(listening, number, key, "before")
        body = entry_of(LISTENING, evidence)
        assert isinstance(body, Finding)
        assert body.outcome == "could_not_tell"
        assert body.weights == ()

    def test_a_family_without_such_a_check_refuses_the_finding(self, store):
        # there is a model of top loaders, but no check among theirs that a recording answers
        workshop = Workshop(store, {"top_loader": load_family("top_loader")})
        number = workshop.jobs.open(
            replace(INTAKE, family="top_loader", complaints=("shakes",))
        ).number
        key = workshop.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        evidence = spin_evidence(workshop, number, key, "before")
        with pytest.raises(InputError, match="no check of this family"):
            record_spin(workshop, evidence)
        assert len(workshop.jobs.get(number).entries) == 1

    def test_a_kind_without_a_model_gets_figures_and_no_cause(self, workshop):
        number = workshop.jobs.open(INTAKE).number
        key = workshop.recordings.keep(number, ("spin.csv.gz", SPIN), None)
        evidence = spin_evidence(workshop, number, key, "before")
        assert evidence.verdict.groups == {}
        assert evidence.sentence.startswith("It reached ")
        assert "There is no model in motion of a small family" in evidence.sentence
        assert evidence.sentence.endswith("but names no cause.")
        record_spin(workshop, evidence)
        (_, entry) = workshop.jobs.get(number).entries
        assert isinstance(entry.body, Note)
        assert entry.body.text.startswith(AS_IT_CAME)
        # what it said before the repair is what the proof is held against
        assert latest_before(workshop.jobs.get(number)) == key
        other = workshop.recordings.keep(number, ("after.csv.gz", AFTER), None)
        proof = spin_evidence(workshop, number, other, "after").proof
        assert proof.rows
        assert "shows no fault" not in proof.sentence


class TestUploads:
    ROWS = tuple((20.0 * n, 0.1, -0.2, 9.81) for n in range(50))

    def test_pieces_come_in_any_order_and_twice(self, listening, number):
        for piece in (2, 0, 2, 1):
            progress = listening.uploads.keep_rows(number, UPLOAD, piece, self.ROWS)
        assert progress.parts == (0, 1, 2)
        assert listening.uploads.unfinished(number) == {UPLOAD: 3}

    def test_the_same_piece_with_other_readings_is_refused(self, listening, number):
        listening.uploads.keep_rows(number, UPLOAD, 0, self.ROWS)
        with pytest.raises(ConflictError):
            listening.uploads.keep_rows(number, UPLOAD, 0, self.ROWS[:-1])

    @pytest.mark.parametrize(
        ("pieces", "said"),
        [(4, "2 of 4 pieces have not come: 1, 3"), (1, "more than the 1"), (0, "0 of 0")],
    )
    def test_it_is_not_finished_before_it_is_whole(self, listening, number, pieces, said):
        for piece in (0, 2):
            listening.uploads.keep_rows(number, UPLOAD, piece, self.ROWS)
        with pytest.raises(ConflictError, match=said):
            listening.uploads.finish(number, UPLOAD, pieces, None)
        assert listening.uploads.unfinished(number) == {UPLOAD: 2}

    def test_many_missing_pieces_are_not_all_listed(self, listening, number):
        with pytest.raises(ConflictError, match=r"7 \.\.\.\. Send"):
            listening.uploads.finish(number, UPLOAD, 20, None)

    def test_the_whole_is_what_a_file_of_the_same_rows_would_be(self, listening, number):
        for piece in range(30):
            rows = [(1000.0 * piece + 20.0 * n, 0.01 * (n % 3), 0.0, 9.81) for n in range(50)]
            listening.uploads.keep_rows(number, UPLOAD, piece, rows)
        key = listening.uploads.finish(number, UPLOAD, 30, 1100.0)
        name, data = listening.recordings.get(key)
        table = gzip.decompress(data)
        assert name == FILE_NAME
        assert table.startswith(HEADER)
        assert table.count(b"\n") == 1501
        assert listening.uploads.finish(number, UPLOAD, 30, 1100.0) == key
        assert listening.uploads.arrived(number, UPLOAD).recording == key
        assert listening.uploads.unfinished(number) == {}

    def test_a_job_nobody_opened_takes_no_pieces(self, listening):
        for ask in (
            lambda: listening.uploads.arrived(99, UPLOAD),
            lambda: listening.uploads.keep_rows(99, UPLOAD, 0, self.ROWS),
            lambda: listening.uploads.finish(99, UPLOAD, 1, None),
        ):
            with pytest.raises(NotFoundError):
                ask()
