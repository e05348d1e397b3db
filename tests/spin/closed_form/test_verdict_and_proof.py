"""What a recording says, when it must not say anything, and the proof of a repair."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from tests.spin.shared import made, recording_file, spin_signal

from counterpoise.cli.main import main
from counterpoise.spin.causes import verdict as verdict_module
from counterpoise.spin.causes.groups import GROUPS, PRIOR
from counterpoise.spin.causes.verdict import BY_HAND, MORE_READINGS, WHOLE_SPIN, judge, sentence
from counterpoise.spin.proof import CANNOT_TELL, NOT_YET, PASS, compare
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import GRAVITY_MS2


def spin_of(size: float = 1.0, points=None, **kwargs):
    orders = {1.0: 2.0 * size, 2.0: 0.1 * size, 3.0: 0.05 * size}
    t, acc, _ = spin_signal(
        100.0, orders=orders, **({"points": points} if points else {}), **kwargs
    )
    return read_spin(made(t, acc))


def still(seconds: float = 60.0):
    t = np.arange(0, seconds, 0.01)
    acc = np.random.default_rng(1).normal(0, 0.02, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
    return read_spin(made(t, acc))


def test_probabilities_are_probabilities():
    verdict = judge(spin_of())
    assert set(verdict.groups) == set(GROUPS)
    assert sum(verdict.groups.values()) == pytest.approx(1)
    assert min(verdict.groups.values()) > 0.001
    assert max(verdict.likelihood.values()) == pytest.approx(1)
    for group in GROUPS:  # the likelihood is what turns the prior into the posterior
        ratio = verdict.groups[group] / PRIOR[group]
        assert verdict.likelihood[group] == pytest.approx(
            ratio / max(verdict.groups[g] / PRIOR[g] for g in GROUPS)
        )


@pytest.mark.parametrize(("reading", "word"), [(still(), "still"), (still(12.0), "long")])
def test_a_recording_of_nothing_says_nothing(reading, word):
    verdict = judge(reading)
    assert verdict.cannot_tell
    assert word in verdict.reason
    assert verdict.groups == PRIOR
    assert set(verdict.likelihood.values()) == {1.0}


def test_a_still_baseline_is_not_used():
    assert not judge(spin_of(), still()).with_baseline
    assert judge(spin_of(), spin_of(0.8)).with_baseline


LATE = [(0, 1100), (40, 1100), (60, 0), (65, 0)]


def test_a_baseline_without_the_climb_leaves_a_whole_spin_as_it_was():
    whole, late = spin_of(), spin_of(0.8, LATE)
    alone, against = judge(whole), judge(whole, late)
    assert not against.with_baseline
    assert against.groups == alone.groups
    assert "the climb is not in it" in sentence(against)
    assert alone.left_out == ""
    # Of a recording begun in mid-run the difference says as much as there is to say.
    assert judge(late, whole).with_baseline
    assert judge(late, late).with_baseline


def test_why_a_baseline_says_nothing_is_said():
    assert "baseline was left out. The phone lay still" in judge(spin_of(), still()).left_out
    slow = [(0, 0), (10, 0), (25, 95), (60, 95), (70, 0), (75, 0)]
    assert "left out" in judge(spin_of(), spin_of(points=slow)).left_out


def test_what_would_tell_more_is_said_where_it_tells_little(monkeypatch):
    whole = judge(spin_of())
    assert whole.tell_more == ""
    monkeypatch.setattr(verdict_module, "LITTLE_BITS", 99.0)
    assert judge(spin_of(points=LATE)).tell_more == WHOLE_SPIN
    assert judge(spin_of()).tell_more == BY_HAND
    t, acc, _ = spin_signal(50.0, orders={1.0: 2.0, 2.0: 0.1})
    slowly = judge(read_spin(made(t, acc)))
    assert slowly.tell_more == MORE_READINGS
    assert sentence(slowly).endswith(MORE_READINGS)


def test_proof_compares_before_and_after():
    before = spin_of(4.0)
    better = compare(before, spin_of(1.0))
    assert better.result in {PASS, NOT_YET}  # a made-up signal may look like a fault
    assert {row.name for row in better.rows} >= {"top speed", "movement at full speed"}
    moved = next(row for row in better.rows if row.name == "movement at full speed")
    assert moved.before == pytest.approx(4 * moved.after, rel=0.02)
    assert compare(before, still()).result == CANNOT_TELL


def test_how_much_it_shakes_beside_before_decides_nothing():
    """One machine shakes up to twenty times as much when its load lies badly."""
    louder, quieter = compare(spin_of(1.0), spin_of(4.0)), compare(spin_of(4.0), spin_of(1.0))
    assert louder.result == quieter.result
    assert louder.odds == pytest.approx(quieter.odds, rel=0.2)
    shaken = spin_of(14.0)
    assert compare(spin_of(1.0), shaken).result == NOT_YET
    assert "too much" in compare(spin_of(1.0), shaken).reason


def test_proof_needs_the_same_top_speed_and_a_real_spin():
    slow = [(0, 0), (10, 0), (25, 400), (35, 400), (45, 700), (75, 700), (90, 0), (95, 0)]
    assert compare(spin_of(), spin_of(points=slow)).result in {CANNOT_TELL, NOT_YET}
    never = [(0, 0), (10, 0), (25, 350), (60, 350), (70, 0), (75, 0)]
    assert compare(spin_of(), spin_of(points=never)).result in {CANNOT_TELL, NOT_YET}


def run(*arguments):
    return CliRunner().invoke(main, ["spin", *map(str, arguments)])


def test_the_json_contract():
    result = run(
        recording_file("r002"), "--baseline", recording_file("r001"), "--top-rpm", "1100", "--json"
    )
    assert result.exit_code == 0
    data = json.loads(result.stdout)
    assert {"speed", "plateaus", "groups", "cannot_tell"} <= set(data)
    assert set(data["groups"]) == set(GROUPS)
    assert sum(data["groups"].values()) == pytest.approx(1, abs=0.001)
    assert all(len(point) == 2 for point in data["speed"])
    assert all(set(plateau) == {"start_s", "end_s", "rpm"} for plateau in data["plateaus"])
    assert data["cannot_tell"] is False
    assert data["with_baseline"] is True


def test_words_for_people(tmp_path):
    assert "The drum reached 1100 rpm" in run(recording_file("r001")).stdout
    path = tmp_path / "empty.csv"
    path.write_text("")
    refused = run(path)
    assert refused.exit_code == 2
    assert "is empty" in refused.stderr


def test_columns_can_be_told(tmp_path):
    t, acc, _ = spin_signal(60.0)
    path = tmp_path / "r.csv"
    np.savetxt(
        path,
        np.column_stack([acc / GRAVITY_MS2, 1000 * t]),
        delimiter=";",
        header="p;q;r;when",
        fmt="%.6f",
    )
    told = run(path, "--columns", "when,p,q,r", "--unit", "g", "--time-unit", "ms", "--json")
    assert [round(p["rpm"], -1) for p in json.loads(told.stdout)["plateaus"]] == [400, 800, 1100]


def test_proof_in_the_terminal():
    result = CliRunner().invoke(
        main, ["spin-proof", str(recording_file("r008")), str(recording_file("r005")), "--json"]
    )
    assert json.loads(result.stdout)["result"] == PASS
    words = CliRunner().invoke(
        main, ["spin-proof", str(recording_file("r005")), str(recording_file("r008"))]
    )
    assert words.stdout.startswith("Not yet.")
