"""What every result obeys: a sentence, cautions, chances that share one, intervals around
values.
"""

import json

import pytest

from counterpoise.bench.bearing import (
    SIZES,
    TurningReadings,
    defect_frequencies,
    turn_and_listen,
)
from counterpoise.bench.bounce import bounce
from counterpoise.bench.cautions import BLOCK_TUB, DRAIN, HEAVY, LICENSED, TIPPED, UNPLUGGED
from counterpoise.bench.dampers import DamperForces, damper_set
from counterpoise.bench.evidence import ANSWERS, check_readings
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.lifting import (
    lifting,
    tipping,
)
from counterpoise.bench.play import PlayReadings, play
from counterpoise.bench.quantity import Quantity, decimals
from counterpoise.bench.runout import Rim, runout, strike
from counterpoise.bench.safety import (
    SafetyReadings,
    safety,
)
from counterpoise.bench.slopes import from_degrees
from counterpoise.bench.suspension import SpringPair, WeightReading, counterweight, springs
from counterpoise.bench.windings import PhaseReadings, windings

RESULTS = {
    "level": lambda: level(LevelReadings(from_degrees(0.8), left=from_degrees(-1.1))),
    "runout": lambda: runout(Rim((9.0, 8.5, 8.0, 7.0, 6.8, 7.5))),
    "strike": lambda: strike(runout(Rim((5.0, 4.0, 3.0, 4.0)), way="walked")),
    "play": lambda: play(PlayReadings((1.1, 1.3), (0.2,), (0.8,), (0.5, 1.2, 2.0))),
    "dampers": lambda: damper_set([DamperForces("left", (75.0,), (80.0,))]),
    "bounce": lambda: bounce(40.0, 3),
    "springs": lambda: springs(SpringPair((206.0,), (200.0,))),
    "counterweight": lambda: counterweight(WeightReading(12.0, 15.0, loose_bolts=1)),
    "bearing": lambda: turn_and_listen(TurningReadings("rough", pull_n=(4.0, 4.4))),
    "tones": lambda: defect_frequencies(SIZES["6205"], 1200.0),
    "windings": lambda: windings(PhaseReadings((5.1, 5.2, 6.0))),
    "safety": lambda: safety(SafetyReadings(0.1, 50.0, 0.8, 0.1)),
    "lifting": lifting,
    "tipping": tipping,
}


def result_of(kind):
    return RESULTS[kind](72.5) if kind == "lifting" else RESULTS[kind]()


@pytest.mark.parametrize("kind", RESULTS)
def test_every_result_has_a_sentence_cautions_and_survives_json(kind):
    found = result_of(kind)
    assert found.sentence.endswith((".", "!"))
    assert found.cautions
    assert all(caution.text and caution.source for caution in found.cautions)
    assert json.loads(json.dumps(found.to_dict()))["sentence"] == found.sentence


@pytest.mark.parametrize("kind", RESULTS)
def test_the_words_of_every_scale_share_all_chance_between_them(kind):
    for name, chances in result_of(kind).grades().items():
        assert sum(chances.values()) == pytest.approx(1.0), name
        assert all(0.0 <= chance <= 1.0 for chance in chances.values())


@pytest.mark.parametrize("kind", RESULTS)
def test_every_interval_holds_its_value(kind):
    for name, quantity in result_of(kind).measures.items():
        assert quantity.low <= quantity.value <= quantity.high, name
        assert quantity.unit


@pytest.mark.parametrize("kind", sorted(set(RESULTS) - {"level", "tipping"}))
def test_the_plug_comes_before_a_hand_goes_in(kind):
    assert result_of(kind).cautions[0] == UNPLUGGED


def test_what_is_heavy_or_flies_is_said_where_it_is_near():
    assert {HEAVY, TIPPED} <= set(result_of("level").cautions)
    assert {DRAIN, HEAVY, TIPPED} <= set(result_of("tipping").cautions)
    for kind in ("dampers", "springs"):
        assert BLOCK_TUB in result_of(kind).cautions
    assert LICENSED.text in result_of("safety").sentence


@pytest.mark.parametrize("kind", RESULTS)
def test_a_result_answers_only_checks_that_name_its_kind(kind):
    found = result_of(kind)
    for check, quantity in check_readings(found).items():
        kinds, name = ANSWERS[check]
        assert isinstance(found, kinds)
        assert quantity is getattr(found, name)


# quantities


@pytest.mark.parametrize("factor", [2.0, -3.0, 0.001])
def test_another_unit_is_the_same_quantity(factor):
    there = Quantity.normal(5.0, 0.4, "mm").scaled(factor, "x")
    assert there.low < there.value < there.high
    back = there.scaled(1.0 / factor, "mm")
    assert back.value == pytest.approx(5.0)
    assert back.sd == pytest.approx(0.4)
    assert (back.low, back.high) == pytest.approx((5.0 - 1.6449 * 0.4, 5.0 + 1.6449 * 0.4), 1e-4)


@pytest.mark.parametrize(
    ("sd", "value", "places"), [(0.3, 5.0, 1), (0.03, 5.0, 2), (30.0, 500.0, 0), (1e-9, 0.0, 4)]
)
def test_a_value_has_one_digit_of_its_doubt(sd, value, places):
    assert decimals(sd, value) == places
