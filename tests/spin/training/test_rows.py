"""Tables of rehearsed recordings: which machine, which run, against which sound recording."""

from itertools import pairwise

import numpy as np
import pytest

from counterpoise.spin.causes import net
from counterpoise.spin.training.rehearsal import part
from counterpoise.spin.training.rows import baseline_of, table_of
from counterpoise.spin.training.train import chosen_rows, feature_names, features
from counterpoise.spin.training.train import tested as with_a_test


def machine(*runs):
    return [
        [(faults, {"full_up": level, "rate": 2.0}) for level in heard] for faults, heard in runs
    ]


def rows():
    return table_of(
        {
            4: machine(((), [1.0, 2.0]), (("soft_floor",), [5.0]), ((), [6.0])),
            5: machine(((), [3.0, 4.0]), (("heavy_load",), [7.0])),
            9: machine(((), [8.0])),
        }
    )


def test_a_table_names_machine_run_and_phone_of_each_recording():
    table = rows()
    assert table.number.tolist() == [4, 4, 4, 4, 5, 5, 5, 9]
    assert table.run.tolist() == [0, 0, 1, 2, 0, 0, 1, 0]
    assert table.phone.tolist() == [0, 1, 0, 0, 0, 1, 0, 0]
    assert table.faults[2] == ("soft_floor",)
    some = table.machines([5])
    assert some.values[:, 0].tolist() == [3.0, 4.0, 7.0]
    assert some.faults == ((), (), ("heavy_load",))


def test_a_test_stands_against_a_sound_recording_of_its_own_machine():
    table = rows()
    # machines of even number compare with the same phone, of odd with the other
    assert baseline_of(table).tolist() == [-1, -1, 0, 0, -1, -1, 5, -1]
    assert with_a_test(table) == {4, 5}
    assert chosen_rows(table, with_baseline=True).number.tolist() == [4, 4, 5]
    names = feature_names(table, with_baseline=True)
    assert names == ("full_up", "rate", "full_up'")
    assert features(table, names)[:, 2].tolist() == [4.0, 5.0, 3.0]


def test_no_machine_is_an_empty_table():
    table = table_of({})
    assert len(table.number) == 0
    assert baseline_of(table).tolist() == []
    assert with_a_test(table) == set()


def test_a_part_of_the_batches_is_read_from_a_fraction():
    assert part("1/4") == (1, 4)


@pytest.mark.parametrize("hidden", [(5,), (6, 4)])
def test_the_slopes_of_a_network_are_those_of_its_loss(hidden):
    """Against differences of the loss itself, for one layer and for two."""
    rng = np.random.default_rng(2)
    sizes = (3, *hidden, 2)
    weights = [rng.normal(0, 1, pair) for pair in pairwise(sizes)]
    offsets = [rng.normal(0, 0.1, size) for size in sizes[1:]]
    x, target = rng.normal(0, 1, (7, 3)), np.eye(2)[rng.integers(2, size=7)]

    def loss():
        p = net.Net(tuple(weights), tuple(offsets)).predict(x)
        return -np.mean(np.sum(target * np.log(p), axis=1))

    # nothing left out, so that the loss is a number and no draw
    share = net.KEPT
    try:
        net.KEPT = 1.0
        slopes = net._slopes(np, weights, offsets, x, target, np.ones)
    finally:
        net.KEPT = share
    for array, slope in zip([*weights, *offsets], slopes, strict=True):
        at = tuple(0 for _ in array.shape)
        was, step = array[at], 1e-6
        array[at] = was + step
        above = loss()
        array[at] = was - step
        below = loss()
        array[at] = was
        assert slope[at] == pytest.approx((above - below) / (2 * step), abs=1e-6)
