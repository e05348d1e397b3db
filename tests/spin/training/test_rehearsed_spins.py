"""The benchmark of rehearsed spins counts as it says, on recordings made up."""

import numpy as np
import pytest
from benchmarks.rehearsed.spins import JudgedSpin, causes_table, speed_table, write_pairs

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, SOUND
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.training.speed_scores import ToldPlateau


def surely(group):
    p = 0.1 * PRIOR_OF
    p[GROUPS.index(group)] += 0.9
    return p


def spin(number, run, fault, alone, against=None):
    """One recording of a machine, called ``alone`` without and ``against`` with a baseline."""
    faults = (fault,) if fault else ()
    told = (ToldPlateau(10.0, 400.0, 400.0 if run else 800.0),)
    base = None if against is None else {"a": 1.0, "b@60": 2.0}
    return JudgedSpin(
        number, run, faults, field=True, rate_hz=100.0, climb=bool(run), plateaus=told, wrong=0.25,
        alone=surely(alone), against=None if against is None else surely(against),
        signature={"a": 3.0, "b@60": 4.0}, baseline=base,
    )  # fmt: skip


def spins():
    return [
        spin(1, 0, "", "nothing_found"),
        spin(1, 1, "soft_floor", "nothing_found", "soft_floor"),
        spin(1, 2, "", "rattle", "nothing_found"),
        spin(2, 0, "", "nothing_found"),
        spin(2, 1, "short_foot", "short_foot", "short_foot"),
        spin(2, 2, "", "nothing_found", "nothing_found"),
    ]


def test_the_table_counts_first_places_alarms_and_what_a_baseline_gains():
    text = causes_table(spins())
    assert "| all, without baseline | 4 | 0.50 / " in text
    assert "| all, with | 4 | 1.00 / 1.00 |" in text
    assert "50.0 % of 2 sound" in text
    gained = next(line for line in text.splitlines() if "gained by the baseline" in line)
    # The floor and one of two sound recordings of three faults alike are called rightly now.
    floor, sound = (surely(group)[i] / surely(other)[i] for group, other, i in (
        ("soft_floor", "nothing_found", GROUPS.index("soft_floor")),
        ("nothing_found", "rattle", SOUND)))  # fmt: skip
    mean = (np.log2(floor) + np.log2(sound) / 2) / 3
    assert float(gained.split("|")[4].split("±")[0]) == pytest.approx(mean, abs=0.001)
    assert "field, no climb | 2 |" in text


def test_speed_is_counted_in_the_field_alone():
    text = speed_table(spins())
    assert text.startswith("4 of 6 plateaus within 1 % (66.7 %): twice 2")
    assert "25.0 % of the time" in text


def test_pairs_are_kept_without_what_the_models_do_not_ask(tmp_path):
    write_pairs(tmp_path / "pairs.npz", spins())
    with np.load(tmp_path / "pairs.npz") as stored:
        assert stored["names"].tolist() == ["a"]
        assert stored["recording"].tolist() == [[3.0]] * 4
        assert stored["baseline"].tolist() == [[1.0]] * 4
        assert stored["faults"].tolist() == ["soft_floor", "", "short_foot", ""]
