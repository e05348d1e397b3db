"""The forest, its temperature, and the rehearsals it learns from."""

import numpy as np
import pytest
from scipy import signal as filters
from tests.spin.shared import made, spin_signal

from counterpoise.spin.forest import grow
from counterpoise.spin.groups import FAULTS_OF, GROUPS, PRIOR
from counterpoise.spin.learn import GROUP_OF, ends_still, examples_of, faults_of, target_of
from counterpoise.spin.orders import find_orders
from counterpoise.spin.phases import find_course
from counterpoise.spin.posterior import PRIOR_OF, learned_forests, pack, stored_reliability, tempered, unpack, votes
from counterpoise.spin.refine import sharpen
from counterpoise.spin.rehearsal import through_phone
from counterpoise.spin.resonance import find_resonances
from counterpoise.spin.signature import levels
from counterpoise.spin.track import track_speed
from counterpoise.spin.training import Lessons, fit, fitted_temperature, reliability
from counterpoise.spin.uniform import spectra, upright


def corners(rng, count=400):
    x = rng.uniform(-1, 1, (count, 5))
    return x, (x[:, 0] * x[:, 1] > 0).astype(int)


def test_a_forest_learns_what_no_line_can_part():
    rng = np.random.default_rng(0)
    x, y = corners(rng)
    forest = grow(x, np.eye(2)[y], 60, rng)
    fresh, truth = corners(rng)
    p = forest.predict(fresh)
    assert p.sum(axis=1) == pytest.approx(np.ones(len(fresh)))
    assert np.mean(p.argmax(axis=1) == truth) > 0.8


def lessons_of(rng, count=300):
    target = np.eye(len(GROUPS))[rng.integers(len(GROUPS), size=count)]
    values = target @ rng.normal(0, 1, (len(GROUPS), 6)) + rng.normal(0, 0.3, (count, 6))
    values[rng.random(values.shape) < 0.1] = np.nan
    return Lessons(tuple("abcdef"), values, target, np.arange(count))


def test_packing_keeps_the_answers(tmp_path):
    rng = np.random.default_rng(1)
    lessons = lessons_of(rng)
    learned = fit(lessons, 10, rng)
    np.savez_compressed(tmp_path / "m.npz", allow_pickle=False, **pack(learned, "alone"))
    with np.load(tmp_path / "m.npz") as stored:
        again = unpack(stored, "alone")
    assert votes(again, lessons.values) == pytest.approx(votes(learned, lessons.values), abs=0.01)


def test_the_same_seed_gives_the_same_forest():
    lessons = lessons_of(np.random.default_rng(1))
    one, two = (fit(lessons, 5, np.random.default_rng(4)).forest for _ in range(2))
    assert np.array_equal(one.threshold, two.threshold)
    assert np.array_equal(one.leaf, two.leaf)


def test_temperature_softens_what_is_too_sure():
    rng = np.random.default_rng(2)
    target = np.eye(len(GROUPS))[rng.choice(len(GROUPS), 4000, p=PRIOR_OF)]
    loud = 0.5 * target + 0.5 * np.eye(len(GROUPS))[rng.choice(len(GROUPS), 4000, p=PRIOR_OF)]
    wrong = rng.random(4000) < 0.4
    loud[wrong] = np.roll(loud[wrong], 1, axis=1)
    temperature = fitted_temperature(loud, target)
    assert temperature > 1.2
    said, _, count = reliability(tempered(loud, temperature), target)
    assert count.sum() > 1000
    assert np.all(np.diff(said) > 0)


def test_tempering_of_the_prior_gives_the_prior():
    assert tempered(PRIOR_OF[None], 3.0)[0] == pytest.approx(PRIOR_OF, abs=0.01)
    assert sum(PRIOR.values()) == pytest.approx(1)
    assert PRIOR["dampers"] == pytest.approx(3 / 14)


def test_the_shipped_model_is_small_and_calibrated():
    from importlib.resources import files

    assert len(files("counterpoise.spin").joinpath("signature_model.npz").read_bytes()) < 2_000_000
    for kind in ("alone", "with_baseline"):
        assert learned_forests()[kind].forest.leaf.shape[1] == len(GROUPS)
        said, true, count = stored_reliability(kind)
        assert np.average(np.abs(said - true), weights=count) < 0.05
        assert np.max(np.abs(said - true)[count > 100]) < 0.2


def test_targets_and_draws():
    assert target_of(())[GROUPS.index("nothing_found")] == 1
    assert target_of(("counterweight_lost", "damper_dead"))[GROUPS.index("dampers")] == 1
    assert sorted(target_of(("soft_floor", "heavy_load")))[-2:] == [0.5, 0.5]
    drawn = [faults_of(np.random.default_rng(seed)) for seed in range(300)]
    assert {fault for each in drawn for fault in each} == set(GROUP_OF) - {"sound"}
    assert sum(map(len, FAULTS_OF.values())) == 14


def test_a_rehearsal_is_the_same_each_time_and_can_be_kept(tmp_path):
    first = examples_of(3, 2026, 10, tmp_path)
    again = examples_of(3, 2026, 10, tmp_path)
    assert first[0][0] == ()
    assert ends_still(np.arange(100.0), np.zeros((100, 3)))
    assert [faults for faults, _ in first] == [faults for faults, _ in again]
    for (_, one), (_, two) in zip(first, again, strict=True):
        assert list(one.values()) == pytest.approx(list(two.values()), nan_ok=True)


def test_the_phone_of_the_rehearsals_keeps_the_motion():
    t, acc, _ = spin_signal(400.0, noise=0.0)
    heard = through_phone(t, acc, np.random.default_rng(5))
    assert 55 < heard.rate_hz < 210
    at = heard.t_s + (t[-1] - heard.t_s[-1]) / 2
    clean = np.interp(at, t, acc[:, 0])
    assert np.corrcoef(clean, heard.acc_ms2[:, 0])[0, 1] > 0.5


@pytest.mark.parametrize("zeta", [0.04, 0.1])
def test_a_known_resonance_is_found(zeta):
    f0 = 9.0
    points = [(0, 0), (5, 0), (75, 1100), (85, 1100)]
    t, acc, f = spin_signal(400.0, points=points, orders={1.0: 1.0}, noise=0.0)
    force = (acc - np.array([0, 0, 9.80665])) * (f[:, None] / f0) ** 2
    omega = 2 * np.pi * f0
    answer = filters.lsim(([omega**2], [1, 2 * zeta * omega, omega**2]), force[:, 0], t)[1]
    shaken = np.column_stack([answer, 0.3 * answer, 0.5 * answer])
    recording = made(t[::4], shaken[::4] + np.array([0, 0, 9.80665]))
    even = upright(recording)
    spectrum = spectra(even)
    track = sharpen(even, track_speed(spectrum, recording.rate_hz))
    course = find_course(track, spectrum.power.sum(axis=1))
    found = find_resonances(levels(find_orders(recording, even.turn, track), course))
    near = [each for each in found if each.axis == "flat" and abs(each.rpm / (60 * f0) - 1) < 0.06]
    assert near
    assert near[0].damping == pytest.approx(zeta, rel=0.45)
