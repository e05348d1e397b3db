"""Machines rehearsed side by side give the very examples that one after the other give."""

import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from counterpoise.dynamics.effects.physics_digest import physics_digest
from counterpoise.errors import InputError
from counterpoise.spin.causes.forest import grow_forest, joined
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.posterior import MODEL_FILE, asked, unpack
from counterpoise.spin.training import train
from counterpoise.spin.training.examples import machine_examples, runs_of_machine
from counterpoise.spin.training.fitting import Size, fit, orders_size_for, size_for
from counterpoise.spin.training.learning_curve import judged
from counterpoise.spin.training.rehearsal import Rehearsal, by_machine
from counterpoise.spin.training.rows import coded, decoded, load_rows, save_rows, table_of
from counterpoise.spin.training.train import trained_arrays, training_set

# One whose controller gives up easily, so that some of its spins are asked for twice.
NUMBER, SEED = 8, 2027


@pytest.mark.slow
def test_side_by_side_and_one_after_the_other_are_the_same(tmp_path):
    with ThreadPoolExecutor(1) as pool:
        rehearsal = Rehearsal(SEED, "processor", pool, tmp_path)
        together = rehearsal.machines([NUMBER])[NUMBER]
    alone = machine_examples(NUMBER, SEED)
    assert rehearsal.machine_s > 100
    assert not list(tmp_path.iterdir())  # samples are gone once they are read
    assert [[wrong for wrong, _ in run] for run in together] == [
        [wrong for wrong, _ in run] for run in alone
    ]
    assert len(together[0]) == 2  # both phones hear the sound run, one each test
    assert all(len(run) == 1 for run in together[1:])
    for here, there in zip(together, alone, strict=True):
        for pair in zip(here, there, strict=True):
            one, other = (np.array(list(signature.values())) for _, signature in pair)
            same = np.isclose(one, other, rtol=1e-3, atol=1e-3, equal_nan=True)
            # panels kept in single precision move a reading by less than a phone's rounding does
            assert same.mean() > 0.98


def test_runs_are_the_same_each_time_and_each_its_own():
    first, again = runs_of_machine(3, SEED), runs_of_machine(3, SEED)
    assert [(run.faults, run.setup, run.seed) for run in first] == [
        (run.faults, run.setup, run.seed) for run in again
    ]
    assert first[0].faults == first[-1].faults == ()
    assert len({run.seed for run in first}) == len(first)


def test_a_machine_without_its_sound_run_is_left_out():
    heard = [((), {"x": 1.0})]
    machines = by_machine(
        {(1, 0): heard, (1, 1): [], (1, 2): heard, (2, 0): [], (2, 1): heard, (3, 0): heard}
    )
    assert list(machines) == [1]
    assert len(machines[1]) == 2


def rehearsed(count, seed=0):
    """Machines whose faults show in two features, one of them against the own baseline."""
    rng, out = np.random.default_rng(seed), {}
    faults = [(), ("soft_floor",), ("spring_off",), ("heavy_load",), ()]
    for number in range(count):
        own = float(rng.normal())

        def heard(wrong, own=own):
            at = GROUPS.index("nothing_found") if not wrong else hash_of(wrong[0])
            return (
                wrong,
                {
                    "full_up": own + at + 0.1 * rng.normal(),
                    "climb_most": -1.0,
                    "two_330": at + 0.3 * rng.normal(),
                    "rate": 2.0,
                },
            )

        out[number] = [[heard(()), heard(())], *([heard(wrong)] for wrong in faults)]
    return out


def hash_of(fault):
    return {"soft_floor": -4.0, "spring_off": 12.0, "heavy_load": 18.0}[fault]


def test_rows_come_back_as_they_were_and_kinds_do_not_mix(tmp_path):
    machines = rehearsed(3)
    save_rows(tmp_path / "rows-a.npz", machines, "one")
    back, made = load_rows([tmp_path / "rows-a.npz"])
    assert made == "one"
    mine = table_of(machines)
    assert back.names == mine.names
    assert back.faults == mine.faults
    for column in ("number", "run", "phone"):
        assert getattr(back, column).tolist() == getattr(mine, column).tolist()
    # half precision: a thousandth of the value
    assert back.values == pytest.approx(mine.values, rel=1e-3)
    save_rows(tmp_path / "rows-b.npz", machines, "another")
    with pytest.raises(InputError, match="different physics"):
        load_rows([tmp_path / "rows-a.npz", tmp_path / "rows-b.npz"])


@pytest.mark.parametrize(
    ("orders", "names"),
    [
        (False, ("alone", "with_baseline")),
        (True, ("alone", "orders_alone", "with_baseline", "orders_with_baseline")),
    ],
)
def test_a_small_file_is_trained_and_judged_on_a_processor(monkeypatch, orders, names):
    monkeypatch.setattr(train, "size_for", lambda _: Size(16, 2, 300))
    monkeypatch.setattr(train, "orders_size_for", lambda _: Size(0, 2, 300, (24, 12)))
    rows = table_of(rehearsed(40))
    arrays = trained_arrays(
        rows.machines(range(30)), 1, rows.machines(range(30, 40)), made="there", orders=orders
    )
    # the rows say what they were made of, not the program that learns from them
    assert str(arrays["made_of"]) == "there"
    assert str(arrays["learned_from"]) == "30 machines, 10 aside, seed 1"
    assert asked(arrays, with_baseline=True) == names
    assert unpack(arrays, "with_baseline").names[-1] == "two_330'"
    row = judged(arrays, table_of(rehearsed(10, seed=1)), SEED)["alone, all"]
    assert row["first"] > 0.8
    assert row["alarms on sound"] < 0.2
    assert np.isfinite(list(row.values())).all()


def test_a_model_is_the_same_whatever_runs_its_parts():
    training = training_set(table_of(rehearsed(12)), with_baseline=False)
    with ThreadPoolExecutor(3) as pool:
        one, other = (
            fit(training, Size(20, 2, 40), np.random.default_rng(4), run) for run in (map, pool.map)
        )
    assert len(one.forest.root) == 20
    assert np.array_equal(one.forest.threshold, other.forest.threshold)
    assert all(
        np.array_equal(a.weights[0], b.weights[0])
        for a, b in zip(one.nets, other.nets, strict=True)
    )


def test_forests_put_together_vote_together():
    rng = np.random.default_rng(3)
    x, share = rng.normal(size=(200, 4)), np.eye(3)[rng.integers(3, size=200)]
    small, large = (grow_forest(x, share, trees, rng) for trees in (2, 6))
    both = joined([small, large]).predict(x)
    assert both == pytest.approx(0.25 * small.predict(x) + 0.75 * large.predict(x))


def test_more_examples_make_a_larger_model_but_no_smaller_leaf():
    few, many = size_for(1000), size_for(40_000)
    assert few == Size()
    assert many.hidden > few.hidden
    assert many.steps > few.steps
    assert many.least > few.least
    assert (
        orders_size_for(40_000).trees == 0
    )  # a forest of so many features takes more than it gives


def test_levels_by_speed_are_kept_in_bytes():
    levels = np.array([[-2.4, 0.013, 1.97, np.nan]])
    back = decoded(coded(levels))
    assert back[0, :3] == pytest.approx(levels[0, :3], abs=0.0101)
    assert np.isnan(back[0, 3])
    assert decoded(coded(np.array([[9.0, -9.0]]))) == pytest.approx(np.array([[2.48, -2.6]]))


def test_the_file_of_the_package_was_learned_from_this_physics():
    """Where it fails the machine in motion has changed: rehearse and train anew (docs/spin.md)."""
    with np.load(Path(train.__file__).parents[1] / MODEL_FILE) as stored:
        physics, drawn, reader = str(stored["made_of"]).split("-")
        learned = str(stored["learned_from"])
    assert physics == physics_digest()
    assert len(drawn) == len(reader) == 12
    # What the file says of itself is what is told of it.
    told = re.fullmatch(r"(\d+) machines, (\d+) aside, seed (\d+)", learned)
    count, aside, seed = (int(each) for each in told.groups())
    docs = (Path(__file__).parents[3] / "docs" / "spin.md").read_text("utf-8")
    assert f"{count:,} machines" in docs
    assert f"the {aside} kept aside" in docs
    assert f"--aside 100000-100699 --seed {seed}" in docs
