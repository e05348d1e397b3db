"""Emulated sensors and the tables that logging programs write, from one and the same motion."""

import io

import numpy as np
import pytest
from tests.spin.shared import spin_signal

from counterpoise.errors import RecordingError
from counterpoise.spin.causes.verdict import unusable_reason
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import FormatHints

POINTS = [(0, 0), (4, 0), (6, 50), (18, 400), (25, 400), (36, 800), (44, 800), (56, 1180)]
POINTS += [(72, 1180), (88, 0), (91, 0)]
HOLDS_RPM = [400, 800, 1180]
# The motion itself, far finer than any phone reads it.
FINE, MOTION, _ = spin_signal(
    1000.0, points=POINTS, orders={1.0: 0.6, 2.0: 0.08, 3.0: 0.05}, noise=0.0
)
FULL = (FINE > 60) & (FINE < 70)
FIRST_MS2 = 0.6 * np.sqrt(1 + 0.6**2 + 0.4**2)
RNG = np.random.default_rng(15)


def sensed(at, step=0.001, noise=0.01, seed=1):
    """Readings (n, 3) in m/s2 at times (n,) in s, with noise, rounded to ``step``."""
    clean = np.column_stack([np.interp(at, FINE, axis) for axis in MOTION.T])
    noisy = clean + np.random.default_rng(seed).normal(0, noise, clean.shape)
    return np.round(noisy / step) * step


def even(rate_hz):
    return np.arange(0.0, FINE[-1], 1 / rate_hz)


def table(columns, header, separator=",", digits=6):
    rows = [separator.join(f"{x:.{digits}f}" for x in row) for row in np.column_stack(columns)]
    return "\n".join([header, *rows])


def read(text, **kwargs):
    return read_spin(read_recording(io.BytesIO(text.encode()), "phone.csv", **kwargs))


def assert_reads(reading, *, level=0.1):
    held = [p.rpm for p in reading.course.plateaus if p.rpm > 250]
    assert held == pytest.approx(HOLDS_RPM, rel=0.01)
    assert unusable_reason(reading) == ""
    full = (reading.orders.t_s > 60) & (reading.orders.t_s < 70)
    first = np.sqrt(np.sum(np.abs(reading.orders.amplitude[1][:, full]) ** 2, axis=0))
    assert np.nanmedian(first) == pytest.approx(FIRST_MS2, rel=level)


@pytest.mark.parametrize("rate_hz", [50.0, 60.0, 100.0, 125.0, 200.0, 400.0])
def test_any_rate_of_a_phone_follows_the_drum(rate_hz):
    t = even(rate_hz * 1.007)  # no two phones count alike
    assert_reads(read(table([t, sensed(t)], "time,ax,ay,az")))


def test_the_usual_browser_rounds_coarsely_and_is_still_read():
    """Sixty a second, stamps and readings rounded to protect privacy."""
    t = even(60.0)
    stamps = np.round(t, 3)
    reading = read(table([stamps, sensed(t, step=0.1, noise=0.02)], "time,ax,ay,az", digits=3))
    assert_reads(reading)
    assert {"coarse", "rate_low"} <= {note.code for note in reading.recording.notes}


def test_a_quiet_spin_under_coarse_rounding_accuses_nobody():
    """A tenth of a m/s2 swallows a well spread load: silence is right, a cause is not."""
    t = even(60.0)
    quiet = MOTION.mean(axis=0) + 0.05 * (MOTION - MOTION.mean(axis=0))
    faint = np.column_stack([np.interp(t, FINE, axis) for axis in quiet.T])
    noisy = faint + np.random.default_rng(2).normal(0, 0.01, faint.shape)
    text = table([t, np.round(noisy, 1)], "time,ax,ay,az", digits=3)
    reading = read(text)
    # Nothing was seen turning, or what was is the drum: no other speed is claimed.
    known = np.isfinite(reading.track.f_hz) & (60 * np.nan_to_num(reading.track.f_hz) > 250)
    at, rpm = np.array(POINTS, dtype=float).T
    apart = 60 * reading.track.f_hz[known] / np.interp(reading.track.t_s[known], at, rpm) - 1
    assert np.all(np.abs(apart) < 0.05)


def late(t):
    """A busy phone: each reading is stamped up to half a step late."""
    return np.sort(t + RNG.uniform(0, 0.5, len(t)) * (t[1] - t[0]))


def bursts(t):
    """Readings handed over four at a time, all with the stamp of the last."""
    return np.repeat(t[3::4], 4)[: len(t)]


IRREGULAR = {
    "jitter": lambda t: (late(t), None),
    "a grid of 5 ms": lambda t: (np.round(t / 0.005) * 0.005, t),
    "a grid of 10 ms": lambda t: (np.round(t / 0.01) * 0.01, t),
    "bursts of four": lambda t: (bursts(t), t[: len(bursts(t))]),
    "two in a hundred lost": lambda t: (t[RNG.random(len(t)) > 0.02], None),
    "three gaps of half a second": lambda t: (
        t[~np.any([(t > g) & (t < g + 0.5) for g in (10.2, 30.7, 63.1)], axis=0)],
        None,
    ),
    "a clock that runs 1 % fast": lambda t: (1.01 * t, t),
}


@pytest.mark.parametrize("name", IRREGULAR)
def test_irregular_clocks_are_put_in_order(name):
    """``at`` is when it was really read, where the stamp says otherwise."""
    stamps, at = IRREGULAR[name](even(100.0))
    readings = sensed(stamps if at is None else at)
    reading = read(table([stamps, readings], "time,ax,ay,az"))
    if name.endswith("fast"):
        held = [p.rpm for p in reading.course.plateaus if p.rpm > 250]
        assert held == pytest.approx([rpm / 1.01 for rpm in HOLDS_RPM], rel=0.01)
    else:
        assert_reads(reading, level=0.15)


T = even(100.0)
ACC = sensed(T)
G = 9.80665
EPOCH = 1_700_000_000.0
ISO_START = np.datetime64("2024-03-01T10:00:00", "ms")


def by_rows(header, row, separator=","):
    lines = [separator.join(row(i, t, a)) for i, (t, a) in enumerate(zip(T, ACC, strict=True))]
    return "\n".join([header, *lines])


def plain(values, digits=5):
    return [f"{x:.{digits}f}" for x in values]


TABLES = {
    "a counter first": by_rows("index,time,x,y,z", lambda i, t, a: [str(i), *plain([t, *a])]),
    "epoch in ms": by_rows(
        "timestamp,acc_x,acc_y,acc_z",
        lambda _, t, a: [f"{1000 * (EPOCH + t):.0f}", *plain(a)],
    ),
    "epoch in ns, an accuracy beside it": by_rows(
        "timestamp,accuracy,x,y,z",
        lambda _, t, a: [f"{1e9 * EPOCH + round(1e9 * t):.0f}", "3", *plain(a)],
    ),
    "time of day and seconds since the start": by_rows(
        "time,seconds_elapsed,x,y,z",
        lambda _, t, a: [f"{1e9 * EPOCH + round(1e9 * t):.0f}", f"{t:.4f}", *plain(a)],
    ),
    "z before y before x": by_rows(
        "time,seconds_elapsed,z,y,x",
        lambda _, t, a: [f"{1e9 * EPOCH + round(1e9 * t):.0f}", f"{t:.4f}", *plain(a[::-1])],
    ),
    "a date and seconds, without a header": "\n".join(
        ",".join([f"{1e9 * EPOCH + round(1e9 * t):.0f}", f"{t:.4f}", *plain(a)])
        for t, a in zip(T, ACC, strict=True)
    ),
    "axes and rotations by turns": by_rows(
        "time,ax,wx,ay,wy,az,wz",
        lambda _, t, a: plain([t, a[0], 0.1, a[1], 0.2, a[2], 0.3]),
    ),
    "iso times": by_rows(
        "time;ax;ay;az",
        lambda _, t, a: [str(ISO_START + round(1000 * t)), *plain(a)],
        ";",
    ),
    "g, and what it comes to": by_rows(
        "Time (s),Acceleration x (g),Acceleration y (g),Acceleration z (g),Absolute (g)",
        lambda _, t, a: plain([t, *(a / G), np.linalg.norm(a) / G], 6),
    ),
    "decimal commas, in mg": by_rows(
        "Zeit in ms;ax (mg);ay (mg);az (mg)",
        lambda _, t, a: [s.replace(".", ",") for s in plain([1000 * t, *(1000 * a / G)], 3)],
        ";",
    ),
    "a rotation before it": by_rows(
        "t,gyro_x,gyro_y,gyro_z,acc_x,acc_y,acc_z",
        lambda _, t, a: plain([t, 0.01 * np.sin(t), 0.02, -0.01, *a]),
    ),
    "remarks above the table": "made by hand\nno filter\n\n"
    + by_rows("time [s]\tx\ty\tz", lambda _, t, a: plain([t, *a]), "\t"),
}


@pytest.mark.parametrize("name", TABLES)
def test_tables_of_other_programs_read_the_same(name):
    assert_reads(read(TABLES[name]))


def test_without_a_column_of_time_the_rate_must_be_given():
    text = by_rows("x,y,z", lambda _i, _t, a: plain(a))
    with pytest.raises(RecordingError, match="time"):
        read(text)
    assert_reads(read(text, hints=FormatHints(columns=("x", "y", "z"), rate_hz=100.0)))


def with_others(*, named):
    """Rows of acceleration at 100 a second, rotation at 50 and pressure at 5, by time."""
    rows = [(t, "acc", a) for t, a in zip(T, ACC, strict=True)]
    turn = RNG.normal(0, 0.05, (len(T) // 2, 3))
    rows += [(t + 0.0013, "gyro", w) for t, w in zip(T[::2], turn, strict=False)]
    rows += [(t + 0.0021, "pressure", (1013.2, 0.0, 0.0)) for t in T[::20]]
    rows.sort(key=lambda row: row[0])
    return "\n".join(
        ["time,sensor,x,y,z" if named else "time,x,y,z"]
        + [",".join([f"{t:.4f}", *([name] if named else []), *plain(v)]) for t, name, v in rows]
    )


def test_a_whole_phone_in_one_file_is_told_apart_by_name():
    reading = read(with_others(named=True))
    assert_reads(reading)
    assert "other_sensors" in {note.code for note in reading.recording.notes}


def test_a_whole_phone_without_names_is_refused_and_not_read_as_knocks():
    with pytest.raises(RecordingError) as refused:
        read(with_others(named=False))
    assert "sensors" in refused.value.message
    assert "acceleration alone" in refused.value.remedy
