"""Forest and networks, their temperature, and the synthetic recordings they learn from."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal as filters
from tests.spin.shared import made, spin_signal

from counterpoise.dynamics import Run, simulate
from counterpoise.dynamics.motion.check import check
from counterpoise.spin.causes.forest import grow_forest
from counterpoise.spin.causes.groups import FAULTS_OF, GROUPS, PRIOR
from counterpoise.spin.causes.net import train_net
from counterpoise.spin.causes.posterior import (
    PRIOR_OF,
    pack,
    raw_probabilities,
    shipped_models,
    stored_reliability,
    tempered,
    unpack,
)
from counterpoise.spin.features.orders import find_orders
from counterpoise.spin.features.resonance import find_resonances
from counterpoise.spin.features.signature import levels
from counterpoise.spin.speed.phase_refinement import refined_track
from counterpoise.spin.speed.phases import find_course
from counterpoise.spin.speed.speed_tracking import track_speed
from counterpoise.spin.speed.uniform import spectrogram, upright_signal
from counterpoise.spin.training.examples import (
    GROUP_OF,
    machine_examples,
    random_faults,
    reader_digest,
)
from counterpoise.spin.training.fitting import (
    Size,
    TrainingSet,
    fit,
    fitted_temperature,
    reliability,
)
from counterpoise.spin.training.programmes import (
    AbortLimits,
    aborted_profile,
    distribution_end,
    random_profile,
)
from counterpoise.spin.training.random_machines import (
    random_machine,
    with_random_fault,
    with_random_load,
)
from counterpoise.spin.training.rows import table_of
from counterpoise.spin.training.scores import confusion, confusion_text
from counterpoise.spin.training.synthetic_recordings import phone_recording, random_setup
from counterpoise.spin.training.train import (
    chosen_rows,
    example_weights,
    group_target,
    training_set,
)


def test_a_network_learns_what_no_line_can_part():
    rng = np.random.default_rng(0)
    x, y = corners(rng)
    net = train_net(x, np.eye(2)[y], 800, rng)
    fresh, truth = corners(rng)
    p = net.predict(fresh)
    assert p.sum(axis=1) == pytest.approx(np.ones(len(fresh)))
    assert np.mean(p.argmax(axis=1) == truth) > 0.8


def test_each_fault_weighs_alike():
    weight = example_weights(
        [(), (), (), ("soft_floor",), ("soft_floor", "heavy_load"), ("heavy_load",)]
    )
    assert weight[:3].sum() == pytest.approx(2 * weight[3])
    assert weight[4] == weight[5]


@pytest.mark.parametrize("fault", sorted(set(GROUP_OF) - {"sound"}))
def test_every_fault_can_be_put_into_a_random_machine(fault):
    rng = np.random.default_rng(11)
    sound = random_machine(rng)
    check(sound)
    spoiled = with_random_fault(with_random_load(sound, rng), fault, rng)
    check(spoiled)
    assert spoiled != replace(sound, load=spoiled.load) or fault == "heavy_load"


def test_a_worn_lining_keeps_its_bushing_loses_it_or_something_between():
    rng = np.random.default_rng(12)
    sound = random_machine(rng)
    kept = []
    for _ in range(40):
        for one, two in zip(
            sound.dampers[:2],
            with_random_fault(sound, "two_dampers_dead", rng).dampers[:2],
            strict=True,
        ):
            share = two.friction_n / one.friction_n
            assert share < 0.16
            kept.append(np.log(two.bushing_n_m / one.bushing_n_m) / np.log(share))
    assert 0.0 <= min(kept) < 0.1
    assert 0.9 < max(kept) <= 1.0


def test_sound_machines_of_little_grip_are_as_common_as_those_of_much():
    rng = np.random.default_rng(14)
    machines = [random_machine(rng) for _ in range(400)]
    set_n = np.array([sum(d.friction_n for d in machine.dampers) for machine in machines])
    two = np.array([len(machine.dampers) == 2 for machine in machines])
    of_friction = set_n[two & (set_n > 60)] / 2  # below, fluid leads in some
    assert np.mean(of_friction < 60) == pytest.approx(0.5, abs=0.1)


def test_a_controller_minds_what_a_heavy_load_does():
    rng = np.random.default_rng(13)
    setup = random_setup(rng)
    light, heavy = (
        with_random_fault(with_random_load(setup.machine, rng), fault, rng)
        for fault in ("spring_tired", "heavy_load")
    )
    spin = random_profile(rng, 1000.0)
    assert distribution_end(spin)[1] < 110
    results = [simulate(each, Run(spin), 100.0) for each in (light, heavy)]
    strict, lax = AbortLimits(1e-4, 1e-4, 3), AbortLimits(1.0, 1.0, 3)
    assert [strict.aborts(light, spin, results[0]), lax.aborts(heavy, spin, results[1])] == [
        True,
        False,
    ]
    cut = aborted_profile(3, rng)
    assert max(rpm for _, rpm in cut.points) < 110
    assert cut.points[-1][1] == 0


def corners(rng, count=400):
    x = rng.uniform(-1, 1, (count, 5))
    return x, (x[:, 0] * x[:, 1] > 0).astype(int)


def test_a_forest_learns_what_no_line_can_part():
    rng = np.random.default_rng(0)
    x, y = corners(rng)
    forest = grow_forest(x, np.eye(2)[y], 60, rng)
    fresh, truth = corners(rng)
    p = forest.predict(fresh)
    assert p.sum(axis=1) == pytest.approx(np.ones(len(fresh)))
    assert np.mean(p.argmax(axis=1) == truth) > 0.8


def lessons_of(rng, count=300):
    target = np.eye(len(GROUPS))[rng.integers(len(GROUPS), size=count)]
    values = target @ rng.normal(0, 1, (len(GROUPS), 6)) + rng.normal(0, 0.3, (count, 6))
    values[rng.random(values.shape) < 0.1] = np.nan
    return TrainingSet(tuple("abcdef"), values, target, np.arange(count), np.ones(count))


def test_packing_keeps_the_answers(tmp_path):
    rng = np.random.default_rng(1)
    training = lessons_of(rng)
    learned = fit(training, Size(10, 2, 200), rng)
    np.savez_compressed(tmp_path / "m.npz", allow_pickle=False, **pack(learned, "alone"))
    with np.load(tmp_path / "m.npz") as stored:
        again = unpack(stored, "alone")
    assert raw_probabilities(again, training.values) == pytest.approx(
        raw_probabilities(learned, training.values), abs=0.01
    )


def test_the_same_seed_learns_the_same():
    training = lessons_of(np.random.default_rng(1))
    one, two = (fit(training, Size(5, 1, 50), np.random.default_rng(4)) for _ in range(2))
    assert np.array_equal(one.forest.threshold, two.forest.threshold)
    assert np.array_equal(one.forest.leaf, two.forest.leaf)
    assert np.array_equal(one.nets[0].weights[0], two.nets[0].weights[0])


def test_temperature_softens_what_is_too_sure():
    rng = np.random.default_rng(2)
    target = np.eye(len(GROUPS))[rng.choice(len(GROUPS), 4000, p=PRIOR_OF)]
    loud = 0.5 * target + 0.5 * np.eye(len(GROUPS))[rng.choice(len(GROUPS), 4000, p=PRIOR_OF)]
    wrong = rng.random(4000) < 0.4
    loud[wrong] = np.roll(loud[wrong], 1, axis=1)
    temperature = fitted_temperature(loud, target, np.ones(4000))
    assert temperature > 1.2
    said, _, count = reliability(tempered(loud, temperature), target, np.ones(4000))
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
        assert shipped_models()[kind].forest.leaf.shape[1] == len(GROUPS)
        said, true, count = stored_reliability(kind)
        assert np.average(np.abs(said - true), weights=count) < 0.05
        assert np.max(np.abs(said - true)[count > 100]) < 0.2


def test_targets_and_draws():
    assert group_target(())[GROUPS.index("nothing_found")] == 1
    assert group_target(("counterweight_lost", "damper_dead"))[GROUPS.index("dampers")] == 1
    assert sorted(group_target(("soft_floor", "heavy_load")))[-2:] == [0.5, 0.5]
    drawn = [random_faults(np.random.default_rng(seed)) for seed in range(300)]
    assert {fault for each in drawn for fault in each} == set(GROUP_OF) - {"sound"}
    assert sum(map(len, FAULTS_OF.values())) == 14


def test_a_machine_is_the_same_each_time_and_can_be_kept(tmp_path):
    heard, read = tmp_path / "3.npz", tmp_path / f"3-{reader_digest()}.json"
    found = [machine_examples(3, 2026, tmp_path)]
    heard.rename(tmp_path / "aside.npz")
    found.append(machine_examples(3, 2026, tmp_path))  # from what was read
    (tmp_path / "aside.npz").rename(heard)
    read.unlink()
    found.append(machine_examples(3, 2026, tmp_path))  # read again
    first, *others = ([one for run in each for one in run] for each in found)
    assert first[0][0] == ()
    for other in others:
        assert [faults for faults, _ in first] == [faults for faults, _ in other]
        for (_, one), (_, two) in zip(first, other, strict=True):
            assert list(one) == list(two)
            assert list(one.values()) == pytest.approx(list(two.values()), nan_ok=True)


def test_how_each_single_fault_is_called():
    p = np.eye(len(GROUPS))[
        [GROUPS.index(each) for each in ("dampers", "nothing_found", "rattle", "soft_floor")]
    ]
    found = confusion(p, [("damper_dead",), ("damper_dead",), (), ("soft_floor", "heavy_load")])
    assert set(found) == {"damper_dead", "sound"}
    assert found["damper_dead"][0] == 2
    assert found["damper_dead"][1][
        [GROUPS.index("dampers"), GROUPS.index("nothing_found")]
    ] == pytest.approx(0.5)
    assert confusion_text(found).splitlines() == [
        "  sound (1): rattle 1.00",
        "  damper_dead (2): dampers 0.50, nothing_found 0.50",
    ]


def test_examples_and_what_was_wrong_in_them_stand_in_the_same_order():
    def run(*faults):
        return [(faults, {"full_up": float(len(faults)), "rate": 0.0})] * 2

    machines = [
        [run(), run("soft_floor"), run("damper_dead", "soft_floor")],
        [run(), run("heavy_load")],
    ]
    rows = table_of(dict(enumerate(machines)))
    for with_baseline in (False, True):
        training = training_set(rows, with_baseline=with_baseline)
        wrong = chosen_rows(rows, with_baseline=with_baseline).faults
        assert training.values[:, 0].tolist() == [len(each) for each in wrong]
        assert np.array_equal(training.target, np.array([group_target(each) for each in wrong]))


def test_the_phone_of_the_synthetic_recordings_keeps_the_motion():
    t, acc, _ = spin_signal(400.0, noise=0.0)
    heard = phone_recording(t, acc, np.random.default_rng(5))
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
    even = upright_signal(recording)
    spectrum = spectrogram(even)
    track = refined_track(even, track_speed(spectrum, recording.rate_hz))
    course = find_course(track, spectrum.power.sum(axis=1))
    found = find_resonances(levels(find_orders(recording, even.turn, track), course))
    near = [each for each in found if each.axis == "flat" and abs(each.rpm / (60 * f0) - 1) < 0.06]
    assert near
    assert near[0].damping == pytest.approx(zeta, rel=0.45)
