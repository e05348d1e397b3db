"""Tables that mix the rows of several sensors: told apart, or refused with the reason."""

import io

import numpy as np
import pytest

from counterpoise.errors import RecordingError
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.recording import FormatHints

RNG = np.random.default_rng(3)
T = np.arange(500) / 50
ACC = RNG.normal(0, 0.3, (500, 3)).round(4) + np.array([0, 0, 9.81])
LINEAR = (ACC - [0, 0, 9.81]).round(4)
ROT = RNG.normal(0, 0.05, (500, 3)).round(4)
MAG = RNG.normal([22, -5, -38], 0.4, (500, 3)).round(3)


def cells(values):
    return ",".join(f"{x:g}" for x in values)


def mixed(sensors, row, header=None, later_s=0.0):
    """One row a sensor and moment; ``row(t, name, values)`` writes it."""
    lines = [header] if header else []
    for i, t in enumerate(T):
        lines += [row(t + k * later_s, name, v[i]) for k, (name, v) in enumerate(sensors.items())]
    return "\n".join(lines)


def blocks(sensors, header):
    lines = [header]
    for name, values in sensors.items():
        lines += [f"{t:.4f},{name},{cells(v)}" for t, v in zip(T, values, strict=True)]
    return "\n".join(lines)


def named(t, name, v):
    return f"{t:.4f},{name},{cells(v)}"


def german(t, name, v):
    return f"{t:.4f};{name};{v[0]:g};{v[1]:g};{v[2]:g}".replace(".", ",")


def quoted(t, name, v):
    return ",".join(f'"{cell}"' for cell in named(t, name, v).split(","))


def blank(order):
    """Each sensor in columns of its own, blank where a row is of another."""
    header = "time," + ",".join(f"{name}_{axis}" for name, _ in order for axis in "xyz")
    lines = [header]
    for i, t in enumerate(T):
        for k, (_, values) in enumerate(order):
            row = [",,"] * len(order)
            row[k] = cells(values[i])
            lines.append(f"{t + k / 1000:.4f}," + ",".join(row))
    return "\n".join(lines)


ALL = {"gyroscope": ROT, "accelerometer": ACC, "magnetic field": MAG}
HEADER = "time,sensor,x,y,z"
TOLD_APART = {
    "by a column": mixed(ALL, named, HEADER),
    "each a little later": mixed(ALL, named, HEADER, 0.003),
    "in blocks, each from time 0": blocks(ALL, HEADER),
    "gravity wins over linear": mixed(
        {"Linear Acceleration": LINEAR, "Accelerometer": ACC}, named, HEADER
    ),
    "calibrated wins over raw": mixed(
        {"accelerometer uncalibrated": ACC + 0.3, "accelerometer": ACC}, named, HEADER
    ),
    "short tags, no header": mixed(
        {"GYR": ROT, "ACC": ACC}, lambda t, n, v: f"{n},{t:.4f},{cells(v)}"
    ),
    "name last": mixed(ALL, lambda t, n, v: f"{t:.4f},{cells(v)},{n}", "t,x,y,z,type"),
    "four cells for another": mixed(
        {"orientation": np.ones((500, 4)), "acceleration": ACC}, named, HEADER
    ),
    "dotted names under an odd header": mixed(
        {"sensor.gyroscope": ROT, "sensor.accelerometer": ACC}, named, "ts,a,x,y,z"
    ),
    "decimal commas": mixed(
        {"Beschleunigung": ACC, "Drehrate": ROT},
        german,
        "Zeit;Sensor;x;y;z",
    ),
    "quotes": mixed(ALL, quoted, '"time","sensor","x","y","z"'),
    "blank columns of others": blank([("gyr", ROT), ("mag", MAG), ("acc", ACC)]),
}


def read(text, **kwargs):
    return read_recording(io.BytesIO(text.encode()), "mix.csv", **kwargs)


@pytest.mark.parametrize("name", TOLD_APART)
def test_the_acceleration_is_told_apart(name):
    got = read(TOLD_APART[name])
    assert got.acc_ms2 == pytest.approx(ACC, abs=1e-3)
    assert got.rate_hz == pytest.approx(50, rel=1e-3)
    assert {"other_sensors"} <= {note.code for note in got.notes}


REFUSED = {
    "numbers for names": (mixed({"1": ACC, "4": ROT}, named, HEADER), "names instead of numbers"),
    "names nobody knows": (mixed({"s1": ACC, "s2": ROT}, named, HEADER), "s1, s2"),
    "no acceleration": (mixed({"rotation": ROT, "magnetic": MAG}, named, HEADER), "none is named"),
    "one sensor, another": (mixed({"gyroscope": ROT}, named, HEADER), "holds no acceleration"),
    "in turn, no name": (mixed(ALL, lambda t, _, v: f"{t:.4f},{cells(v)}", "t,x,y,z"), "in turn"),
    "in turn, each later": (
        mixed(ALL, lambda t, _, v: f"{t:.4f},{cells(v)}", "t,x,y,z", 0.003),
        "in turn",
    ),
    "columns of another": (
        mixed({"": ROT}, lambda t, _, v: f"{t:.4f},{cells(v)}", "time,gyro_x,gyro_y,gyro_z"),
        "only gyro_x",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_told_apart_is_refused_with_the_reason(name):
    text, reason = REFUSED[name]
    with pytest.raises(RecordingError, match=reason) as refusal:
        read(text)
    assert refusal.value.field == "columns"
    assert "xport the acceleration" in refusal.value.remedy


def test_remarks_beside_one_signal_are_no_sensors():
    """A phase or a remark in words must not cost a single row."""
    text = mixed(
        {"": ACC},
        lambda t, _, v: f"{t:.4f},{'accelerating' if t > 5 else 'rotating slowly'},{cells(v)}",
        "time,label,x,y,z",
    )
    assert len(read(text).t_s) == len(T)
    one = mixed({"my phone": ACC}, named, "time,device,x,y,z")
    assert len(read(one).t_s) == len(T)


def test_a_second_table_below_is_left_out_and_said():
    text = mixed({"": ACC}, lambda t, _, v: f"{t:.4f},{cells(v)}", "time,ax,ay,az")
    below = mixed({"": ROT}, lambda t, _, v: f"{t:.4f},{cells(v)}", "time,wx,wy,wz")
    got = read(f"{text}\n\n{below}\n")
    assert got.acc_ms2 == pytest.approx(ACC, abs=1e-3)
    assert "second_table" in {note.code for note in got.notes}
    # A header that only comes again, as on every page of a print, ends nothing.
    again = read(f"{text}\ntime,ax,ay,az\n" + f"{T[-1] + 0.02:.4f},0,0,9.81\n")
    assert len(again.t_s) == len(T) + 1


def test_axes_of_acceleration_win_over_those_called_g():
    lines = ["time,gx,gy,gz,ax,ay,az"]
    lines += [f"{t:.4f},{cells(r)},{cells(a)}" for t, r, a in zip(T, ROT, ACC, strict=True)]
    assert read("\n".join(lines)).acc_ms2 == pytest.approx(ACC, abs=1e-3)


def test_the_users_word_on_columns_still_counts_in_a_mixed_table():
    text = mixed(ALL, lambda t, n, v: f"{t:.4f},{n},{cells(v)}", "a,sensor,b,c,d")
    hints = FormatHints(columns=("a", "b", "c", "d"))
    assert read(text, hints=hints).acc_ms2 == pytest.approx(ACC, abs=1e-3)


@pytest.mark.parametrize("f_hz", [15.002, 20.01, 30.003])
def test_a_tone_at_a_whole_fraction_of_the_rate_is_no_sensor_in_turn(f_hz):
    """60 samples a second and 1200 rpm: every third sample alike, minute after minute."""
    t = np.arange(12_000) / 60
    phase = 2 * np.pi * f_hz * t
    acc = np.column_stack([4 * np.cos(phase), 3 * np.sin(phase), 9.81 + np.cos(phase)])
    text = "\n".join(f"{a:.4f},{cells(v)}" for a, v in zip(t, acc, strict=True))
    assert len(read(text).t_s) == len(t)


def test_phases_of_a_spin_are_no_sensors_though_one_is_called_acceleration():
    phase = {0: "tumble", 1: "acceleration", 2: "hold"}
    text = mixed(
        {"": ACC}, lambda t, _, v: f"{t:.4f},{phase[int(t // 3.4)]},{cells(v)}", "time,phase,x,y,z"
    )
    assert len(read(text).t_s) == len(T)


def test_rows_in_turn_are_refused_though_some_were_lost():
    rows = mixed(ALL, lambda t, _, v: f"{t:.4f},{cells(v)}", "t,x,y,z").split("\n")
    for at in (1400, 900, 500, 250):
        del rows[at]
    with pytest.raises(RecordingError, match="in turn"):
        read("\n".join(rows))


@pytest.mark.parametrize("seed", range(16))
def test_a_damaged_mixture_is_told_apart_or_refused_and_never_mixed(seed):
    rng = np.random.default_rng(seed)
    name = sorted(TOLD_APART)[int(rng.integers(len(TOLD_APART)))]
    data = bytearray(TOLD_APART[name].encode())
    for _ in range(int(rng.integers(1, 60))):
        data[int(rng.integers(len(data)))] = int(rng.integers(32, 127))
    try:
        got = read_recording(io.BytesIO(bytes(data[int(rng.integers(0, 40)) :])))
    except RecordingError:
        return
    # Single digits may have changed, but no row of the magnetic field is among those read.
    apart = np.abs(np.median(got.acc_ms2, axis=0) - [0, 0, 9.81])
    assert apart.max() < 0.2
    assert np.mean(np.linalg.norm(got.acc_ms2, axis=1) > 30) < 0.02
