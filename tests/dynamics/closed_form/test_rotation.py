"""Rotation vectors, axes and wrenches of the kernels, against an independent rotation library."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from counterpoise.dynamics.kernels.layout import CABINET, TUB
from counterpoise.dynamics.kernels.rotation import (
    add_force,
    advance_rotation,
    arm_and_velocity,
    set_angular_velocity,
    set_rotation,
    to_body,
    to_room,
)

RNG = np.random.default_rng(11)
# up to 0.3 rad, twenty times as far as a machine that stands ever leans
DIRECTIONS = RNG.normal(size=(6, 3))
TURNS = [
    *(0.3 * RNG.uniform(size=(6, 1)) * DIRECTIONS / np.linalg.norm(DIRECTIONS, axis=1)[:, None]),
    np.zeros(3),
    np.array([0.0, 0.0, 0.3]),
]


def matrix(turn, body=CABINET):
    q, rot = np.zeros(18), np.zeros((2, 3, 3))
    q[6 * body + 3 : 6 * body + 6] = turn
    set_rotation.py_func(q, body, rot)
    return rot[body]


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("body", [CABINET, TUB])
def test_the_series_is_the_rotation_to_nine_digits(turn, body):
    expected = Rotation.from_rotvec(turn).as_matrix()
    assert np.abs(matrix(turn, body) - expected).max() < 1e-9


@pytest.mark.parametrize("turn", TURNS)
def test_to_the_body_and_back_to_the_room_is_where_it_was(turn):
    vector = (0.3, -1.2, 0.7)
    there = to_body.py_func(matrix(turn), *vector)
    assert to_room.py_func(matrix(turn), *there) == pytest.approx(vector, abs=1e-9)
    assert np.linalg.norm(there) == pytest.approx(np.linalg.norm(vector), abs=1e-8)


@pytest.mark.parametrize("turn", TURNS)
def test_a_small_step_turns_by_its_angular_velocity_in_body_axes(turn):
    rate, dt = np.array([0.8, -1.1, 0.5]), 1e-4
    q = np.zeros(18)
    q[3:6] = turn
    advance_rotation.py_func(q, 3, *rate, dt)
    expected = Rotation.from_rotvec(turn) * Rotation.from_rotvec(rate * dt)
    assert q[3:6] == pytest.approx(expected.as_rotvec(), abs=5e-9)
    assert not q[9:12].any()


def test_a_turn_about_one_axis_simply_adds_up():
    q = np.zeros(18)
    for _ in range(100):
        advance_rotation.py_func(q, 9, 0.0, 0.5, 0.0, 1e-3)
    assert q[9:12] == pytest.approx([0.0, 0.05, 0.0], abs=1e-15)


def test_a_force_at_an_arm_is_a_force_and_its_moment():
    arm, force = np.array([0.2, -0.4, 0.7]), np.array([10.0, 3.0, -8.0])
    wrench = np.zeros(6)
    add_force.py_func(wrench, *arm, *force)
    assert wrench[:3] == pytest.approx(force)
    assert wrench[3:] == pytest.approx(np.cross(arm, force))
    add_force.py_func(wrench, *arm, *-force)
    assert wrench == pytest.approx(np.zeros(6))


@pytest.mark.parametrize("body", [CABINET, TUB])
def test_the_velocity_of_a_point_is_that_of_its_body_and_its_turning(body):
    turn, rate, shift = np.array([0.1, -0.2, 0.15]), np.array([1.0, 2.0, -0.5]), [0.3, 0.1, -0.2]
    point = np.array([0.25, 0.1, -0.4])
    v, rot = np.zeros(18), np.zeros((2, 3, 3))
    v[6 * body : 6 * body + 3], v[6 * body + 3 : 6 * body + 6] = shift, rate
    rot[body] = Rotation.from_rotvec(turn).as_matrix()
    work = SimpleNamespace(rot=rot, angular=np.zeros((2, 3)))
    set_angular_velocity.py_func(v, body, work)
    found = arm_and_velocity.py_func(v, work, body, point)
    arm = rot[body] @ point
    assert found[:3] == pytest.approx(arm)
    assert found[3:] == pytest.approx(shift + np.cross(rot[body] @ rate, arm))
