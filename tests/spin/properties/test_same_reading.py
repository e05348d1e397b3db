"""However the same motion was written down, it reads the same."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.spin.shared import made, spin_signal

from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.files.columns import ACC_UNITS_MS2, TIME_UNITS_S
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import read_spin

SHORT = [(0, 0), (4, 0), (6, 50), (18, 400), (24, 400), (32, 800), (40, 800), (46, 0), (48, 0)]
T, ACC, _ = spin_signal(
    100.0, points=SHORT, orders={0.5: 0.2, 1.0: 2.0, 2.0: 0.6, 3.0: 0.3}, noise=0.02
)
STRAIGHT = read_spin(made(T, ACC))


def assert_same(got, *, speed=2e-3, level=0.03):
    ours, theirs = got.course.plateaus, STRAIGHT.course.plateaus
    assert [p.rpm for p in ours] == pytest.approx([p.rpm for p in theirs], rel=speed)
    for name, value in STRAIGHT.signature.items():
        if name.startswith(("flat_", "up_", "full_", "two_", "half_3", "peak_")) and np.isfinite(
            value
        ):
            assert got.signature[name] == pytest.approx(value, abs=level), name


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    order=st.permutations([0, 1, 2]),
    signs=st.tuples(*[st.sampled_from([-1.0, 1.0])] * 3),
    later=st.floats(-1e3, 1e3),
)
def test_axes_signs_and_start_do_not_matter(order, signs, later):
    turned = ACC[:, order] * np.array(signs)
    assert_same(read_spin(made(T + later, turned)))


@settings(max_examples=8, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000))
def test_any_way_the_phone_lay(seed):
    turn = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))[0]
    assert_same(read_spin(made(T, ACC @ turn.T)))


@settings(max_examples=16, deadline=None, derandomize=True)
@given(
    acc_unit=st.sampled_from(sorted(ACC_UNITS_MS2)),
    time_unit=st.sampled_from(sorted(set(TIME_UNITS_S) - {"iso"})),
    separator=st.sampled_from([",", ";", "\t"]),
    comma=st.booleans(),
    named=st.booleans(),
)
def test_units_and_spelling(tmp_path_factory, acc_unit, time_unit, separator, comma, named):
    path = tmp_path_factory.mktemp("same") / "r.csv"
    table = np.column_stack([T / TIME_UNITS_S[time_unit], ACC / ACC_UNITS_MS2[acc_unit]])
    header = separator.join(
        [f"time ({time_unit})", *(f"acc_{axis} ({acc_unit})" for axis in "xyz")]
    )
    text = "\n".join(
        ([header] if named else []) + [separator.join(f"{x:.9g}" for x in row) for row in table]
    )
    path.write_text(text.replace(".", ",") if comma and separator != "," else text)
    assert_same(read_spin(read_recording(path)))


@settings(max_examples=8, deadline=None, derandomize=True)
@given(rate_hz=st.floats(60, 250))
def test_resampling(rate_hz):
    fine, acc, _ = spin_signal(2000.0, points=SHORT, orders={1.0: 2.0, 2.0: 0.6}, noise=0.003)
    t = np.arange(0, fine[-1], 1 / rate_hz)
    got = read_spin(made(t, np.column_stack([np.interp(t, fine, axis) for axis in acc.T])))
    full = read_spin(made(fine[::20], acc[::20]))
    assert [p.rpm for p in got.course.plateaus] == pytest.approx(
        [p.rpm for p in full.course.plateaus], rel=2e-3
    )
    for name in ("full_flat", "full_up", "flat_330", "up_330", "two_330"):
        assert got.signature[name] == pytest.approx(full.signature[name], abs=0.03)


@settings(max_examples=6, deadline=None, derandomize=True)
@given(tilt=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(-0.2, 0.2)))
def test_an_offset_of_the_sensor_hardly_matters(tilt):
    assert_same(read_spin(made(T, ACC + np.array(tilt))), level=0.06)


def test_the_verdict_is_the_same_too():
    turned = made(T + 17.0, ACC[:, [2, 0, 1]] * np.array([1.0, -1.0, 1.0]))
    assert list(judge(read_spin(turned)).groups.values()) == pytest.approx(
        list(judge(STRAIGHT).groups.values()), abs=0.03
    )
