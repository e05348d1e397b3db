"""Five hundred malformed and hostile files: each is read, or refused in words.

Nothing crashes, memory stays bounded.
"""

import gzip
import resource
import struct

import numpy as np
import pytest

from counterpoise.errors import RecordingError
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import read_spin

HEADER = "t_s,ax_ms2,ay_ms2,az_ms2"


def rows(rng, count=400, rate=100.0):
    t = np.arange(count) / rate
    return np.column_stack([t, rng.normal(0, 1, (count, 2)), 9.81 + rng.normal(0, 1, count)])


def text(table, header=HEADER):
    return header + "\n" + "\n".join(",".join(f"{x:.5g}" for x in row) for row in table) + "\n"


def with_value(value):
    def make(rng):
        table = rows(rng)
        table[rng.random(table.shape) < rng.choice([0.001, 0.05, 0.6])] = value
        return text(table).encode()

    return make


def cut(rng):
    data = text(rows(rng)).encode()
    return data[: rng.integers(0, len(data))]


def cut_gzip(rng):
    data = gzip.compress(text(rows(rng)).encode())
    return data[: rng.integers(0, len(data))]


def damaged_gzip(rng):
    data = bytearray(gzip.compress(text(rows(rng)).encode()))
    for _ in range(rng.integers(1, 20)):
        data[rng.integers(2, len(data))] = rng.integers(0, 256)
    return bytes(data)


def damaged_text(rng):
    data = bytearray(text(rows(rng)).encode())
    for _ in range(rng.integers(1, 400)):
        data[rng.integers(0, len(data))] = rng.integers(0, 256)
    return bytes(data)


def shuffled_time(rng):
    table = rows(rng)
    table[:, 0] = rng.permutation(table[:, 0])
    return text(table).encode()


def strange_time(rng):
    table = rows(rng)
    kind = rng.integers(5)
    if kind == 0:
        table[:, 0] = table[::-1, 0]
    elif kind == 1:
        table[:, 0] = 1.0
    elif kind == 2:
        table[:, 0] *= 10.0 ** rng.integers(-12, 13)
    elif kind == 3:
        table[200:, 0] += 10.0 ** rng.integers(0, 9)
    else:
        table[:, 0] = rng.normal(0, 1, len(table))
    return text(table).encode()


def few_rows(rng):
    return text(rows(rng, int(rng.integers(1, 4)))).encode()


def ragged(rng):
    lines = [",".join("1.5" for _ in range(rng.integers(0, 9))) for _ in range(300)]
    return "\n".join(lines).encode()


def wide(rng):
    count = int(rng.choice([300, 20_000, 1_000_000]))
    return (",".join(["1"] * count) + "\n").encode() * int(rng.integers(1, 3))


def long_line(rng):
    return b"1" * int(rng.integers(70_000, 3_000_000))


def bomb(rng):
    filler = [b"\0", b"0", b"\n", b"1,2,3,4\n", b"0.1,0,0,9.8\n", b"time,x,y,z\n"][rng.integers(6)]
    return gzip.compress(filler * (int(rng.integers(30, 60)) * 1_000_000 // len(filler)), 1)


def binary(rng):
    return rng.bytes(int(rng.integers(1, 50_000)))


def other_kind(rng):
    body = rng.bytes(2000)
    return [
        b"PK\x03\x04" + body,
        b"RIFF" + struct.pack("<I", 9) + b"WAVE" + body,
        b"%PDF-1.7" + body,
    ][rng.integers(3)]


def wide_characters(rng):
    return text(rows(rng)).encode(["utf-16", "utf-16-le", "utf-32"][rng.integers(3)])


def words(rng):
    return "\n".join(
        ",".join(rng.choice(["shake", "nan", "", "-", "1e999", "0x10", "١٢"], 4))
        for _ in range(200)
    ).encode()


def empty(rng):
    return [b"", b"\n\n\n", b"   ", HEADER.encode(), gzip.compress(b""), b"\xef\xbb\xbf"][
        rng.integers(6)
    ]


def quotes(rng):
    return (
        text(rows(rng))
        .replace(",", '","' if rng.random() < 0.5 else ',"', int(rng.integers(1, 900)))
        .encode()
    )


def huge_values(rng):
    table = rows(rng)
    table[:, 1:] *= 10.0 ** rng.integers(-300, 300)
    return text(table).encode()


MAKERS = [
    with_value(np.nan), with_value(np.inf), with_value(-np.inf), with_value(1e308), cut, cut_gzip,
    damaged_gzip, damaged_text, shuffled_time, strange_time, few_rows, ragged, wide, long_line,
    binary, other_kind, wide_characters, words, empty, quotes, huge_values,
]  # fmt: skip


def outcome(path):
    """Give the recording, read to the end, or the message of its refusal."""
    try:
        reading = read_spin(read_recording(path))
    except RecordingError as error:
        return str(error)
    assert np.isfinite(reading.recording.acc_ms2).all()
    assert np.all(np.diff(reading.recording.t_s) > 0)
    return reading


@pytest.mark.parametrize("maker", range(len(MAKERS)))
def test_hostile_files(tmp_path, maker):
    path = tmp_path / "r.csv"
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for seed in range(24):
        path.write_bytes(MAKERS[maker](np.random.default_rng([maker, seed])))
        got = outcome(path)
        if isinstance(got, str):
            assert len(got) > 20
            assert "Traceback" not in got
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert grown_mb < 150


@pytest.mark.parametrize("seed", range(6))
def test_bombs_are_put_out_in_bounded_memory(tmp_path, seed):
    path = tmp_path / "r.csv.gz"
    path.write_bytes(bomb(np.random.default_rng(seed)))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert isinstance(outcome(path), str)
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024 < 250


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_no_file_at_all(tmp_path, name):
    assert "cannot be opened" in outcome(tmp_path / name)
