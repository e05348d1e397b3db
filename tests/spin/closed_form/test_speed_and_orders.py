"""Signals with a known speed and known orders: speed within 0.2 %, amplitude within 2 %."""

import numpy as np
import pytest
from scipy import signal as filters
from tests.spin.shared import USUAL, made, speed_profile, spin_signal

from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import GRAVITY_MS2
from counterpoise.spin.speed.comb import alias_hz
from counterpoise.spin.speed.uniform import spectrogram, turn_upright, upright_signal


def plateau_error(reading, points):
    for each in reading.course.plateaus:
        middle = np.array([(each.start_s + each.end_s) / 2])
        true = 60 * speed_profile(middle, points)[0]
        yield each.rpm / true - 1


@pytest.mark.parametrize("rate_hz", [60, 100, 200, 400])
@pytest.mark.parametrize(
    "orders",
    [
        {1.0: 2.0, 2.0: 0.5, 3.0: 0.2},
        {1.0: 0.6, 2.0: 1.8},  # 2x three times as strong as 1x
        {1.0: 1.0},
        {0.5: 0.4, 1.0: 1.0, 2.0: 0.3},
    ],
    ids=["usual", "strong 2x", "1x alone", "half order"],
)
def test_speed_on_plateaus_and_on_the_climb(rate_hz, orders):
    t, acc, f = spin_signal(rate_hz, orders=orders)
    reading = read_spin(made(t, acc))
    assert len(reading.course.plateaus) == 3
    assert max(map(abs, plateau_error(reading, USUAL))) < 0.002
    at = reading.track.t_s
    true = np.interp(at, t, f)
    climbing = (at > 20) & (at < 86) & (true > 3)
    miss = np.abs(reading.track.f_hz - true)[climbing]
    assert np.mean(miss < 0.25) > 0.97
    for start, end in ((26, 34), (46, 54), (66, 84)):
        inside = (at > start) & (at < end)
        assert np.all(np.abs(reading.track.f_hz / true - 1)[inside] < 0.002)


def test_a_pump_line_and_its_folded_image_do_not_mislead():
    t, acc, _ = spin_signal(60.0)
    for line_hz in (50.0, 16.8):
        acc[:, 0] += 0.8 * np.sin(2 * np.pi * line_hz * t)
    reading = read_spin(made(t, acc))
    assert [round(p.rpm, -1) for p in reading.course.plateaus] == [400, 800, 1100]
    for image in alias_hz(np.array([50.0, 16.8]), 60.0):
        assert np.min(np.abs(reading.track.lines_hz - image)) < 0.5


def test_a_told_top_speed_excludes_what_is_faster():
    t, acc, _ = spin_signal(200.0, orders={1.0: 0.02, 2.0: 2.0})
    assert max(
        p.rpm for p in read_spin(made(t, acc), top_rpm=1100).course.plateaus
    ) == pytest.approx(1100, rel=0.01)


@pytest.mark.parametrize("jitter", [0.0, 0.2])
def test_order_amplitudes(jitter):
    sizes = {0.5: 0.7, 1.0: 2.0, 2.0: 0.9, 3.0: 0.4}
    t, acc, _ = spin_signal(200.0, orders=sizes, noise=0.005)
    if jitter:
        shift = np.random.default_rng(3).uniform(-jitter, jitter, len(t)) / 200
        acc = np.column_stack([np.interp(t + shift, t, axis) for axis in acc.T])
        fine, fine_acc, _ = spin_signal(2000.0, orders=sizes, noise=0.0)
        acc = np.column_stack([np.interp(t + shift, fine, axis) for axis in fine_acc.T])
        t = t + shift
    reading = read_spin(made(t, acc))
    orders = reading.orders
    for start, end in ((27, 33), (47, 53), (67, 83)):
        here = (orders.t_s > start) & (orders.t_s < end)
        for row, size in enumerate(sizes.values()):
            side, front, up = np.nanmedian(np.abs(orders.amplitude[row][:, here]), axis=1)
            assert side == pytest.approx(size, rel=0.02)
            assert front == pytest.approx(0.6 * size, rel=0.02)
            assert up == pytest.approx(0.4 * size, rel=0.02)


def test_broadband_is_what_no_order_explains():
    t, acc, _ = spin_signal(200.0, noise=0.3)
    orders = read_spin(made(t, acc)).orders
    here = (orders.t_s > 67) & (orders.t_s < 83)
    assert np.median(orders.broadband_ms2[:, here], axis=1) == pytest.approx([0.3] * 3, rel=0.1)


def test_orders_that_fold_onto_the_drum_are_not_claimed():
    # at 1200 rpm and 60 samples a second the second order lands on the first
    points = [(0, 0), (2, 0), (20, 1200), (40, 1200)]
    t, acc, _ = spin_signal(60.0, points=points)
    orders = read_spin(made(t, acc)).orders
    here = (orders.t_s > 25) & (orders.t_s < 38)
    assert np.isnan(orders.amplitude[2][:, here]).all()
    assert np.nanmedian(np.abs(orders.amplitude[1][0, here])) > 1


def test_the_spectrum_agrees_with_scipy():
    t, acc, _ = spin_signal(100.0, noise=0.2)
    even = upright_signal(made(t, acc))
    ours = spectrogram(even)
    length, hop = int(2 * even.rate_hz), round(0.25 * even.rate_hz)
    bins = 2 * (len(ours.f_hz) - 1) if ours.f_hz[-1] >= 49.99 else 512
    f, at, power = filters.spectrogram(
        even.acc_ms2,
        even.rate_hz,
        window="hann",
        nperseg=length,
        noverlap=length - hop,
        nfft=bins,
        detrend=False,
        scaling="spectrum",
    )
    assert f[: len(ours.f_hz)] == pytest.approx(ours.f_hz)
    assert at == pytest.approx(ours.t_s, abs=0.02)
    theirs = (
        2 * power.sum(axis=0).T[:, : len(ours.f_hz)]
    )  # a tone of amplitude A: A^2/2 there, A^2 here
    inner = slice(2, -2)
    assert ours.power[:, inner] == pytest.approx(theirs[:, inner], rel=1e-6, abs=1e-9)


def test_upright_stands_on_gravity_whatever_way_the_phone_lay():
    t, acc, _ = spin_signal(100.0)
    turn = np.linalg.qr(np.random.default_rng(8).normal(size=(3, 3)))[0]
    straight = upright_signal(made(t, acc))
    tilted = upright_signal(made(t, acc @ turn.T))
    assert np.abs(tilted.acc_ms2) == pytest.approx(np.abs(straight.acc_ms2), abs=1e-6)
    rows = turn_upright(made(t, acc @ turn.T))
    assert rows @ rows.T == pytest.approx(np.eye(3), abs=1e-12)
    assert rows @ turn @ np.array([0, 0, GRAVITY_MS2]) == pytest.approx(
        [0, 0, GRAVITY_MS2], abs=0.01
    )


@pytest.mark.parametrize("top", [100.0, 0.0])
def test_a_machine_that_gives_up_or_never_starts(top):
    points = [
        (0, 0),
        (5, 50),
        (12, 50),
        (15, top),
        (25, top),
        (28, 50),
        (35, 50),
        (38, top),
        (48, top),
        (50, 0),
    ]
    t = np.arange(0, 50, 0.01)
    fine = np.arange(0, 50, 0.001)
    angle = np.interp(t, fine, 2 * np.pi * np.cumsum(speed_profile(fine, points)) * 0.001)
    f = speed_profile(t, points)
    acc = np.random.default_rng(1).normal(0, 0.01, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
    acc[:, 0] += 0.3 * (f > 1.4) * np.cos(angle)
    course = read_spin(made(t, acc)).course
    assert course.top_rpm < 130
    assert (course.attempts, course.given_up) == ((2, 2) if top else (0, 0))


def test_tumbling_laundry_is_no_fast_drum():
    rng = np.random.default_rng(4)
    t = np.arange(0, 80, 0.005)
    acc = rng.normal(0, 0.01, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
    for blow in np.arange(5, 75, 60 / 48 / 3) + rng.normal(0, 0.05, 168):
        acc[:, 2] += (
            rng.uniform(0.1, 0.4) * np.exp(-(((t - blow) / 0.03) ** 2)) * np.cos(50 * (t - blow))
        )
    course = read_spin(made(t, acc)).course
    assert course.top_rpm < 200


def test_a_still_phone_says_so_and_a_tumbling_machine_does_not():
    t = np.arange(0, 60, 0.01)
    acc = np.random.default_rng(1).normal(0, 0.02, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
    assert read_spin(made(t, acc)).still
    assert read_spin(made(t, np.round(acc, 1))).still
    assert not read_spin(made(*spin_signal(100.0)[:2])).still
