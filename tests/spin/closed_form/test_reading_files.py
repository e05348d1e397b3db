"""One and the same recording, written in many ways, reads the same."""

import gzip

import numpy as np
import pytest

from counterpoise.errors import RecordingError
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.recording import GRAVITY_MS2, FormatHints

RNG = np.random.default_rng(5)
T = np.arange(600) / 50
UP = np.array([0, 0, 9.81])
ACC = RNG.normal(0, 0.3, (600, 3)).round(4) + UP


def table(separator=",", header=None, rows=None, comma=False, form="{:.6f}"):
    rows = np.column_stack([T, ACC]) if rows is None else rows
    lines = [separator.join(form.format(x) for x in row) for row in rows]
    text = "\n".join(([header] if header else []) + lines) + "\n"
    return text.replace(".", ",") if comma else text


def iso(sep="T", zone="Z"):
    start = np.datetime64("2031-05-04T10:59:58", "us")
    stamps = [str(start + np.timedelta64(round(1e6 * t), "us")).replace("T", sep) + zone for t in T]
    return "timestamp,x,y,z\n" + "\n".join(
        f"{s},{a[0]:.6f},{a[1]:.6f},{a[2]:.6f}" for s, a in zip(stamps, ACC, strict=True)
    )


G = ACC / GRAVITY_MS2
VARIANTS = {
    "plain": table(header="t_s,ax_ms2,ay_ms2,az_ms2"),
    "no header": table(),
    "semicolons, decimal commas": table(";", "Zeit (s);ax (m/s²);ay (m/s²);az (m/s²)", comma=True),
    "tabs, g": table("\t", "time\tgFx\tgFy\tgFz", np.column_stack([T, G]), form="{:.8f}"),
    "blanks": table("   ", None),
    "milliseconds": table(",", "time_ms,x,y,z", np.column_stack([1000 * T, ACC])),
    "nanoseconds since 1970": table(
        ",", "timestamp,x,y,z", np.column_stack([1.7e18 + 1e9 * T, ACC]), form="{:.5f}"
    ),
    "microseconds, unnamed, mg": table(
        ",", None, np.column_stack([1e6 * T, 1000 * G]), form="{:.6f}"
    ),
    "cm/s2": table(",", "t,x,y,z", np.column_stack([T, 100 * ACC])),
    "iso": iso(),
    "iso with blank and zone": iso(" ", "+02:00"),
    "quotes": "\n".join(",".join(f'"{x:.6f}"' for x in row) for row in np.column_stack([T, ACC])),
    "quoted decimal commas": "\n".join(
        ",".join(f'"{x:.6f}"'.replace(".", ",") for x in row) for row in np.column_stack([T, ACC])
    ),
    "preamble": "# made by hand\n# rate 50\n\n" + table(header="t,x,y,z"),
    "more columns": "\n".join(
        ["index,time,gyr_x,gyr_y,gyr_z,acc_x,acc_y,acc_z"]
        + [
            f"{i},{t:.6f},1,2,3,{a[0]:.6f},{a[1]:.6f},{a[2]:.6f}"
            for i, (t, a) in enumerate(zip(T, ACC, strict=True))
        ]
    ),
    "linear beside full": "\n".join(
        ["time,linear_x,linear_y,linear_z,acc_x,acc_y,acc_z"]
        + [f"{t:.6f},0,0,0,{a[0]:.6f},{a[1]:.6f},{a[2]:.6f}" for t, a in zip(T, ACC, strict=True)]
    ),
    "old line ends": table(header="t_s,x,y,z").replace("\n", "\r\n"),
    "utf-8 mark": "\ufeff" + table(header="t_s,x,y,z"),
    "shuffled a little": table(rows=np.column_stack([T, ACC])[np.r_[0:50, 51, 50, 52:600]]),
}


@pytest.mark.parametrize("name", VARIANTS)
@pytest.mark.parametrize("packed", [False, True])
def test_the_same_samples_come_out(tmp_path, name, packed):
    path = tmp_path / ("r.csv.gz" if packed else "r.csv")
    data = VARIANTS[name].encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    got = read_recording(path)
    assert got.t_s == pytest.approx(T, abs=1e-5)
    assert got.acc_ms2 == pytest.approx(ACC, abs=2e-4)
    assert got.rate_hz == pytest.approx(50, rel=1e-3)
    assert got.has_gravity


def test_told_beats_found(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(table(header="a,b,c,d", rows=np.column_stack([ACC, T])))
    got = read_recording(path, hints=FormatHints(columns=("d", "a", "b", "c"), acc_unit="m/s2"))
    assert got.acc_ms2 == pytest.approx(ACC, abs=1e-5)


def test_a_told_rate_replaces_the_time_column(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(table(header="x,y,z", rows=ACC))
    got = read_recording(path, hints=FormatHints(rate_hz=50))
    assert got.t_s == pytest.approx(T)


def codes(path, **kwargs):
    return {note.code for note in read_recording(path, **kwargs).notes}


def test_each_flaw_is_said(tmp_path):
    path = tmp_path / "r.csv"
    rows = np.column_stack([T, ACC])

    path.write_text(table(rows=np.delete(rows, slice(100, 130), axis=0)))
    assert "gaps" in codes(path)

    jittered = rows.copy()
    jittered[:, 0] += RNG.uniform(-0.006, 0.006, len(T))
    path.write_text(table(rows=jittered))
    assert "jitter" in codes(path)

    clipped = np.column_stack([T, np.clip(20 * (ACC - UP) + UP, -19.6, 19.6)])
    path.write_text(table(header="t_s,ax_ms2,ay_ms2,az_ms2", rows=clipped))
    assert "clipped" in codes(path)

    path.write_text(table(rows=np.column_stack([T, np.round(ACC, 1)])))
    assert "coarse" in codes(path)

    path.write_text(table(rows=np.column_stack([T, ACC - [0, 0, 9.81]])))
    assert {"no_gravity", "unit_assumed"} <= codes(path)

    path.write_text(table())
    assert "rate_low" in codes(path, top_rpm=1200)
    assert "rate_too_low" in codes(path, top_rpm=1600)
    assert "rate_low" not in codes(path, top_rpm=600)

    path.write_text(table() + "1,2,broken,4\n")
    assert "bad_rows" in codes(path)

    coarse = rows.copy()
    coarse[:, 0] = np.floor(coarse[:, 0] * 5) / 5
    path.write_text(table(rows=coarse, header="t_s,x,y,z"))
    got = read_recording(path)
    assert "coarse_time" in {n.code for n in got.notes}
    assert got.rate_hz == pytest.approx(50, rel=0.02)


def test_a_clean_recording_has_no_remarks(tmp_path):
    path = tmp_path / "r.csv"
    t = np.arange(4000) / 200
    path.write_text(
        table(rows=np.column_stack([t, np.random.default_rng(1).normal(0, 1, (4000, 3)) + UP]))
    )
    assert codes(path) == set()


def test_a_cut_off_gzip_keeps_what_arrived(tmp_path):
    path = tmp_path / "r.csv.gz"
    whole = gzip.compress((table() * 1).encode())
    path.write_bytes(whole[: len(whole) // 2])
    got = read_recording(path)
    assert 200 < len(got.t_s) < 500


def test_thirty_minutes_at_400_hz_fit(tmp_path):
    path = tmp_path / "r.csv"
    rows = b"".join(b"%.4f,0.1,0.2,9.8\n" % (i / 400) for i in range(720_000))
    path.write_bytes(rows)
    assert read_recording(path).duration_s == pytest.approx(1800, rel=1e-3)


def test_time_backwards_is_refused(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(table(rows=np.column_stack([T[::-1], ACC]), header="t_s,x,y,z"))
    with pytest.raises(RecordingError, match="backwards"):
        read_recording(path)
