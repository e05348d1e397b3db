"""Orders of a spin, from signals that are known: what turns once, twice, and what does not turn."""

import numpy as np
import pytest

from counterpoise.dynamics.motion.harmonics import order_amplitude, total_order_amplitude
from counterpoise.dynamics.motion.simulate import SpinResult

RATE = 200.0
T = np.arange(int(30 * RATE)) / RATE
# the window is a second long: nearer to an end it sees less than a window
INSIDE = slice(int(2 * RATE), int(-2 * RATE))


def spin_of(signal, rpm):
    """A spin whose panel reads ``signal(angle)`` along x at a drum speed ``rpm`` (n,)."""
    speed = np.broadcast_to(rpm, T.shape) * np.pi / 30.0
    angle = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) / RATE)])
    panel = np.zeros((T.size, 3))
    panel[:, 0], panel[:, 2] = signal(angle), 9.81
    nothing = np.zeros((T.size, 3))
    return SpinResult(
        T, speed * 30.0 / np.pi, angle, panel, nothing, nothing, np.zeros((T.size, 4, 3)),
        np.zeros((T.size, 4, 2)), np.zeros(T.size), gave_up=False, complete=True,
        state=np.zeros((0, 36)),
    )  # fmt: skip


@pytest.mark.parametrize("rpm", [300.0, 777.0, 1200.0])
@pytest.mark.parametrize("order", [1.0, 2.0, 3.0])
def test_an_order_is_read_at_its_amplitude_and_at_no_other(rpm, order):
    spin = spin_of(lambda angle: 2.5 * np.cos(order * angle + 0.4), rpm)
    assert order_amplitude(spin, order, 0)[INSIDE] == pytest.approx(2.5, rel=0.01)
    for other in {1.0, 2.0, 3.0} - {order}:
        assert order_amplitude(spin, other, 0)[INSIDE].max() < 0.05


def test_a_climb_does_not_smear_an_order():
    spin = spin_of(lambda angle: 1.5 * np.sin(angle), np.linspace(300.0, 1200.0, T.size))
    assert order_amplitude(spin, 1.0, 0)[INSIDE] == pytest.approx(1.5, rel=0.01)


def test_an_amplitude_that_grows_is_followed():
    grows = np.linspace(0.0, 4.0, T.size)
    spin = spin_of(lambda angle: grows * np.sin(angle), 600.0)
    assert order_amplitude(spin, 1.0, 0)[INSIDE] == pytest.approx(grows[INSIDE], abs=0.05)


def test_gravity_and_what_does_not_turn_are_no_order():
    spin = spin_of(lambda _: 3.0 + 0.5 * np.sin(2 * np.pi * 37.7 * T), 600.0)
    assert order_amplitude(spin, 1.0, 0)[INSIDE].max() < 0.02
    assert order_amplitude(spin, 1.0, 2)[INSIDE].max() < 1e-9


def test_the_axes_together_are_the_root_of_the_sum_of_squares():
    spin = spin_of(lambda angle: 3.0 * np.cos(angle), 600.0)
    spin.panel_m_s2[:, 1] = 4.0 * np.sin(spin.drum_rad)
    assert total_order_amplitude(spin, 1.0)[INSIDE] == pytest.approx(5.0, rel=0.01)
