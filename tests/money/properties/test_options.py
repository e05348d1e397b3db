import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money import Option, OptionCase, Risk, Unknown, compare
from counterpoise.money.options import draw
from counterpoise.money.sensitivity import Line, _hinge, expected, lines


def random_case(seed: int, *, draws: int = 4000) -> OptionCase:
    """A case with three to five hypotheses, two to four options, four unknowns of all laws, a risk, two suspects."""
    rng = np.random.default_rng(seed)
    h, o = int(rng.integers(3, 6)), int(rng.integers(2, 5))
    back = Risk("it comes back", rng.uniform(0, 0.3, h), 9000.0)
    fails = Risk("it fails", rng.uniform(0, 0.3, h), rng.normal(6000, 3000, h))
    risks = ((fails, back), (fails,), (), (), ())
    options = tuple(
        Option(f"o{i}", f"Option {i}", rng.normal(5000, 6000, h), risks[i], days=i)
        for i in range(o)
    )

    def acts(scale: float) -> dict[str, float | np.ndarray]:
        one, *rest = [f"o{i}" for i in rng.permutation(o)]
        return {one: scale * rng.normal(size=h), rest[0]: float(scale * rng.normal())}

    unknowns = (
        Unknown("price", "the price", 20000, 3000, acts(1.0), "positive"),
        Unknown("time", "the bench time", 60, 20, acts(60.0), "positive", "minutes"),
        Unknown("luck", "the chance of a buyer", 0.7, 0.1, acts(10000.0), "chance", "percent"),
        Unknown("other", "the other thing", 0.0, 2000, acts(1.0)),
    )
    suspects = {"fault one": np.arange(h) == 1, "fault two": np.arange(h) == 2}
    return OptionCase(rng.dirichlet(np.ones(h)), options, unknowns, suspects, draws=draws)


@pytest.mark.parametrize("seed", range(8))
def test_the_draws_average_to_the_expected_value(seed):
    case = random_case(seed, draws=40_000)
    outcomes = draw(case, np.random.default_rng(seed))
    for option, row in zip(case.options, outcomes, strict=True):
        error = row.std() / np.sqrt(row.size)
        assert row.mean() == pytest.approx(expected(option, case.belief), abs=5 * error)


def test_eight_in_ten_virtual_jobs_end_within_the_range():
    """400 random cases, five virtual jobs each, played by an independent draw one at a time: 76 to 84 %."""
    inside = total = 0
    for seed in range(400):
        case = random_case(seed, draws=1500)
        ranges = {
            r.id: (r.low_minor, r.high_minor) for r in compare(case, np.random.default_rng(seed))
        }
        world = np.random.default_rng(10_000 + seed)
        for _ in range(5):
            for option, value in played(case, world).items():
                low, high = ranges[option]
                inside += low <= value <= high
                total += 1
    assert 0.76 <= inside / total <= 0.84


def played(case: OptionCase, rng: np.random.Generator) -> dict[str, float]:
    """One virtual job, written without the room's own drawing code."""
    h = int(np.searchsorted(np.cumsum(case.belief), rng.random() * case.belief.sum()))
    found = {option.id: float(option.values[h]) for option in case.options}
    for item in case.unknowns:
        off = one(item, rng) - item.mean
        for option, effect in item.effect.items():
            found[option] += off * (effect[h] if isinstance(effect, np.ndarray) else effect)
    for option in case.options:
        seen = 0.0
        for (
            risk
        ) in option.risks:  # one at most, so the later ones only where the earlier did not happen
            loss = float(np.broadcast_to(risk.loss_minor, case.belief.shape)[h])
            earlier = seen
            seen += risk.chance[h]
            if rng.random() < risk.chance[h] / (1.0 - earlier):
                found[option.id] -= loss
                break
    return found


def one(item: Unknown, rng: np.random.Generator) -> float:
    if item.law == "normal":
        return float(item.mean + item.sd * rng.standard_normal())
    if item.law == "positive":
        s2 = np.log(1 + item.sd**2 / item.mean**2)
        return float(item.mean * np.exp(np.sqrt(s2) * rng.standard_normal() - s2 / 2))
    n = item.mean * (1 - item.mean) / item.sd**2 - 1
    a, b = rng.gamma(item.mean * n), rng.gamma((1 - item.mean) * n)
    return float(a / (a + b))


def value_at(case: OptionCase, key: str, x: float) -> np.ndarray:
    """Expected values with one input moved to ``x``, from the case itself and not from the lines."""
    belief, shift = case.belief, {option.id: np.zeros(case.belief.size) for option in case.options}
    if key in case.suspects:
        mask = case.suspects[key]
        now = belief @ mask
        belief = np.where(mask, belief * x / now, belief * (1 - x) / (1 - now))
    for item in case.unknowns:
        if item.id == key:
            for option, effect in item.effect.items():
                shift[option] = (x - item.mean) * (np.zeros(belief.size) + effect)
    shares = {
        risk.words: case.belief @ risk.chance for option in case.options for risk in option.risks
    }
    rows = []
    for option in case.options:
        factor = {
            risk.words: x / shares[key] if risk.words == key else 1.0 for risk in option.risks
        }
        losses = (risk.chance * factor[risk.words] * risk.loss_minor for risk in option.risks)
        risks = sum(losses, np.zeros(belief.size))
        rows.append(belief @ (option.values + shift[option.id] - risks))
    return np.array(rows)


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_the_choice_flips_where_it_says(seed):
    case = random_case(seed, draws=100)
    ids = [option.id for option in case.options]
    for result in compare(case, np.random.default_rng(0)):
        for hinge in result.hinges:
            step = 1e-6 * max(1.0, abs(hinge.flips_at))
            before, after = (
                value_at(case, hinge.id, hinge.flips_at + sign * step) for sign in (-1, 1)
            )
            best = {ids[int(np.argmax(before))], ids[int(np.argmax(after))]}
            assert hinge.to in best
            assert result.id in best
            assert len(best) == 2


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_no_nearer_flip_is_missed(seed):
    """Walking each input in small steps to four standard deviations finds no flip that was not listed."""
    case = random_case(seed, draws=100)
    best = next(r for r in compare(case, np.random.default_rng(0)) if r.best)
    start = [option.id for option in case.options].index(best.id)
    listed = {hinge.id: hinge.sds for hinge in best.hinges}
    for line, sign in itertools.product(lines(case), (-1, 1)):
        for sds in np.linspace(0, 4, 81):
            x = line.now + sign * sds * line.sd
            if not line.low <= x <= line.high:
                break
            if int(np.argmax(value_at(case, line.id, x))) != start:
                nearer = sorted(listed.values())
                assert listed.get(line.id, np.inf) <= sds + 1e-9 or (
                    len(nearer) == 3 and nearer[-1] <= sds + 1e-9
                )
                break


def test_shares_of_being_best_add_up_and_closed_options_never_win():
    case = random_case(3)
    shut = Option("free_gold", "Free gold", np.full(case.belief.size, 1e7), available=False)
    wider = OptionCase(case.belief, (*case.options, shut), case.unknowns, case.suspects)
    results = compare(wider, np.random.default_rng(5))
    assert sum(r.chance_best for r in results) == pytest.approx(1.0)
    assert results[0].best
    assert results[-1].id == "free_gold"
    assert not results[-1].best
    assert results[-1].hinges_on == "Not open for this job."


def test_same_generator_same_answer():
    case = random_case(9)
    assert compare(case, np.random.default_rng(4)) == compare(case, np.random.default_rng(4))


def test_what_it_hinges_on_reads_as_a_sentence():
    case = OptionCase(
        belief=np.array([0.88, 0.12]),
        options=(
            Option("repair_resell", "Repair and resell", np.array([9000.0, -8000.0])),
            Option("scrap", "Scrap", np.array([-1000.0, -1000.0])),
        ),
        suspects={"a worn main bearing": np.array([False, True])},
    )
    repair, scrap = compare(case, np.random.default_rng(1))
    # 9000 - 17000 p = -1000
    words = (
        "If the chance of a worn main bearing were above 59% (now 12%), the best would be: Scrap."
    )
    assert repair.hinges_on == words
    assert scrap.hinges_on == words
    assert repair.hinges[0].flips_at == pytest.approx(10 / 17)


HALF = np.array([0.5, 0.5])
GOOD = Option("a", "A", np.zeros(2))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: OptionCase(np.array([0.5, 0.6]), (GOOD,)),
        lambda: OptionCase(np.array([]), (GOOD,)),
        lambda: OptionCase(HALF, ()),
        lambda: OptionCase(HALF, (GOOD, GOOD)),
        lambda: OptionCase(HALF, (Option("a", "A", np.zeros(3)),)),
        lambda: OptionCase(HALF, (Option("a", "A", np.array([np.nan, 0.0])),)),
        lambda: OptionCase(
            HALF, (Option("a", "A", np.zeros(2), (Risk("r", np.array([0.0, 1.1]), 1.0),)),)
        ),
        lambda: OptionCase(HALF, (Option("a", "A", np.zeros(2), (Risk("r", HALF, np.zeros(3)),)),)),
        lambda: OptionCase(
            HALF,
            (Option("a", "A", np.zeros(2), (Risk("r", HALF, 1.0), Risk("s", HALF * 1.1, 1.0))),),
        ),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 1, 1, {"b": 1.0}),)),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 1, 1, {"a": np.zeros(3)}),)),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 0, 1, {"a": 1.0}, "positive"),)),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 1.2, 0.1, {"a": 1.0}, "chance"),)),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 0.5, 0.6, {"a": 1.0}, "chance"),)),
        lambda: OptionCase(HALF, (GOOD,), (Unknown("u", "u", 0.5, -0.6, {"a": 1.0}),)),
        lambda: OptionCase(HALF, (GOOD,), suspects={"s": np.array([True])}),
        lambda: OptionCase(HALF, (GOOD,), draws=10),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        wrong()


def test_a_flip_within_the_rounding_is_said_as_that():
    line = Line("p", "the price", "money", 2e4, 300.0, np.zeros(1), np.zeros(1), 0.0, np.inf)
    case = random_case(3)
    said = _hinge(case, line, 20_000.1, 0).sentence
    assert "(now" not in said
    assert "only a little above" in said
    assert "(now" in _hinge(case, line, 30_000.0, 0).sentence


def test_of_two_ways_worth_the_same_neither_takes_the_place_of_the_other():
    """A new machine or the old one back: both owe the same, and rounding must not make a hinge of it."""
    apart = np.array([0.0, 1e-9])

    def case(behind):
        return OptionCase(
            belief=np.array([0.88, 0.12]),
            options=(
                Option("replace", "Replace", np.array([-3600.0, -3600.0])),
                Option("hand_back", "Hand back", np.array([-3600.0, -3600.0]) - behind + apart),
            ),
            suspects={"a worn main bearing": np.array([False, True])},
        )

    assert all(not option.hinges for option in compare(case(0.0), np.random.default_rng(1)))
    # worth less now, by more than a coin, it can take over where the suspect is likelier
    behind = np.array([50.0, -100.0])
    assert any(option.hinges for option in compare(case(behind), np.random.default_rng(1)))
