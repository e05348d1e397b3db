"""Streams and files, packed and plain, are one and the same to the reader."""

import gzip
import io

import numpy as np
import pytest

from counterpoise.errors import RecordingError
from counterpoise.spin.audio.sound_features import read_sound_features
from counterpoise.spin.files import byte_stream
from counterpoise.spin.files.byte_stream import byte_chunks, head_text, line_blocks, opened
from counterpoise.spin.files.read import read_recording

TEXT = "t_s,ax_ms2,ay_ms2,az_ms2\n" + "".join(
    f"{i / 50:.2f},{np.sin(i):.4f},0.1,9.81\n" for i in range(600)
)


def all_lines(data):
    with opened(io.BytesIO(data), "x") as file:
        return [line for block in line_blocks(file) for line in block]


def test_a_stream_reads_as_the_file_does_and_stays_open(tmp_path):
    path = tmp_path / "spin.csv"
    path.write_text(TEXT)
    stream = io.BytesIO(TEXT.encode())
    stream.seek(100)  # wherever it stands
    from_path, from_stream = read_recording(path), read_recording(stream)
    assert np.array_equal(from_path.acc_ms2, from_stream.acc_ms2)
    assert np.array_equal(from_path.t_s, read_recording(stream).t_s)
    assert not stream.closed


@pytest.mark.parametrize(("name", "shown"), [("", "spin.csv"), ("sent by her.csv", "sent by her")])
def test_messages_call_a_file_by_its_name(tmp_path, name, shown):
    path = tmp_path / "spin.csv"
    path.write_text("")
    with pytest.raises(RecordingError, match=f"{shown}.* is empty"):
        read_recording(path, name)
    with pytest.raises(RecordingError, match="recording is empty"):
        read_recording(io.BytesIO(b""))


def test_a_sound_is_read_from_a_stream_too():
    with pytest.raises(RecordingError, match=r"s\.wav is empty"):
        read_sound_features(io.BytesIO(b""), "s.wav")
    with pytest.raises(RecordingError, match="cannot be opened"):
        read_sound_features(_Broken(), "s.wav")


class _Broken(io.BytesIO):
    def read(self, *_):
        raise OSError(5, "Input/output error")


def test_a_stream_that_fails_is_refused_in_words():
    with pytest.raises(RecordingError, match="Input/output error"):
        read_recording(_Broken(b"1"), "a.csv")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("size", [7, 64, 1_000_000])
def test_lines_come_out_whole_however_they_are_cut(monkeypatch, end, size):
    monkeypatch.setattr(byte_stream, "CHUNK_BYTES", size)
    lines = [f"{i},{i * i}" for i in range(200)]
    assert all_lines(end.join(lines).encode()) == lines
    assert all_lines(gzip.compress(end.join(lines).encode())) == lines


def test_packed_pieces_laid_end_to_end_are_one_text():
    assert all_lines(gzip.compress(b"a\nb\n") + gzip.compress(b"c\n")) == ["a", "b", "c"]


def test_the_limit_on_text_holds_for_packed_and_plain(monkeypatch):
    monkeypatch.setattr(byte_stream, "MAX_TEXT_BYTES", 10_000)
    for data in (b"1,2\n" * 5000, gzip.compress(b"1,2\n" * 5000)):
        with (
            opened(io.BytesIO(data), "x") as file,
            pytest.raises(RecordingError, match="unpacks to more"),
        ):
            list(byte_chunks(file))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"PK\x03\x04rest", "ZIP"),
        (b"RIFFrest", "sound"),
        (b"%PDF-1.7", "PDF"),
        ("t,x\n".encode("utf-16"), "UTF-8"),
        (b"1,2\0,3", "UTF-8"),
        (b" \n\t ", "empty"),
    ],
)
def test_what_is_no_text_table_is_named(data, said):
    with opened(io.BytesIO(data), "x") as file, pytest.raises(RecordingError, match=said):
        head_text(file)
