import dataclasses

import numpy as np
import pytest

from counterpoise.errors import InputError
from counterpoise.money import (
    CustomerMachine,
    OwnMachine,
    Referral,
    Repairing,
    Replacement,
    compare,
    customer_case,
    workshop_case,
)
from counterpoise.money.sensitivity import expected, lines

# dampers / main bearing / nothing found
BELIEF = np.array([0.6, 0.3, 0.1])
REPAIR = Repairing(
    minutes=np.array([50.0, 200.0, 30.0]),
    parts_minor=np.array([4200.0, 16000.0, 0.0]),
    works=np.array([0.96, 0.80, 1.0]),
    returns=np.array([0.03, 0.15, 0.01]),
)
OWN = OwnMachine(
    BELIEF,
    REPAIR,
    rate_minor=3600,
    resale_minor=20000,
    as_is_minor=4000,
    parts_minor=np.array([9000.0, 6000.0, 12000.0]),
    parting_minutes=60,
    scrap_minor=-1000,
    comeback_minor=9000,
    suspects={"a worn main bearing": np.array([False, True, False])},
)
CUSTOMER = CustomerMachine(
    BELIEF,
    REPAIR,
    price_minor=np.array([11000.0, 42000.0, 5000.0]),
    worth_minor=30000,
    owed_minor=3000,
    comeback_minor=2000,
    referral=Referral(np.array([14000.0, 50000.0, 8000.0]), np.array([0.9, 0.9, 1.0])),
)


def values(case):
    return {option.id: expected(option, case.belief) for option in case.options}


def test_workshop_values_by_hand():
    got = values(workshop_case(OWN))
    left = 9000 - 3600, 6000 - 3600, 12000 - 3600  # parting out beats the metal
    resell = [
        0.96 * (20000 - 1500) + 0.04 * left[0] - 50 * 60 - 4200 - 0.96 * 0.03 * 9000,
        0.80 * (20000 - 1500) + 0.20 * left[1] - 200 * 60 - 16000 - 0.80 * 0.15 * 9000,
        1.00 * (20000 - 1500) - 30 * 60 - 0.01 * 9000,
    ]
    assert got["repair_resell"] == pytest.approx(BELIEF @ resell)
    assert got["sell_as_is"] == pytest.approx(4000 - 1500)
    assert got["part_out"] == pytest.approx(BELIEF @ left)
    assert got["scrap"] == pytest.approx(-1000)


def test_customer_values_by_hand():
    got = values(customer_case(CUSTOMER))
    repair = [
        0.96 * 30000 - 11000 - 0.96 * 0.03 * 2000,
        0.80 * 30000 - 42000 - 0.80 * 0.15 * 2000,
        30000 - 5000 - 0.01 * 2000,
    ]
    assert got["repair_hand_back"] == pytest.approx(BELIEF @ repair)
    assert got["hand_back"] == -3000
    assert got["replace"] == -3000
    other = [0.9 * 30000 - 14000 - 3000, 0.9 * 30000 - 50000 - 3000, 30000 - 8000 - 3000]
    assert got["refer_on"] == pytest.approx(BELIEF @ other)


def test_no_cure_no_pay_charges_less():
    kinder = dataclasses.replace(CUSTOMER, unsuccessful_minor=3000.0)
    gain = BELIEF @ ((1 - REPAIR.works) * (CUSTOMER.price_minor - 3000))
    got, before = values(customer_case(kinder)), values(customer_case(CUSTOMER))
    assert got["repair_hand_back"] - before["repair_hand_back"] == pytest.approx(gain)


def scaled(machine, field, factor):
    if field in {"minutes", "parts"}:
        name = {"minutes": "minutes", "parts": "parts_minor"}[field]
        repairing = dataclasses.replace(
            machine.repairing, **{name: getattr(machine.repairing, name) * factor}
        )
        return dataclasses.replace(machine, repairing=repairing)
    if field == "other_price":
        referral = dataclasses.replace(
            machine.referral, price_minor=machine.referral.price_minor * factor
        )
        return dataclasses.replace(machine, referral=referral)
    name = {
        "resale": "resale_minor",
        "as_is": "as_is_minor",
        "parts_out": "parts_minor",
        "price": "price_minor",
        "worth": "worth_minor",
    }[field]
    return dataclasses.replace(machine, **{name: getattr(machine, name) * factor})


@pytest.mark.parametrize(
    ("machine", "build"),
    [
        (OWN, workshop_case),
        (dataclasses.replace(OWN, parts_minor=np.array([100.0, 200.0, 300.0])), workshop_case),
        (CUSTOMER, customer_case),
        (dataclasses.replace(CUSTOMER, unsuccessful_minor=3000.0), customer_case),
    ],
)
def test_each_unknown_acts_as_if_the_case_were_made_anew(machine, build):
    """An input 1 % higher, put in from the start, gives what its line says."""
    case = build(machine)
    names = {item.id for item in case.unknowns}
    unknown = [line for line in lines(case) if line.id in names]
    assert len(unknown) >= 2
    for line in unknown:
        anew = values(build(scaled(machine, line.id, 1.01)))
        said = line.values + line.slopes * 0.01 * line.now
        assert list(anew.values()) == pytest.approx(list(said), abs=1e-6), line.id


def test_a_sure_bearing_turns_the_choice_against_the_repair():
    likely = dataclasses.replace(OWN, belief=np.array([0.7, 0.2, 0.1]))
    resell = compare(workshop_case(likely), np.random.default_rng(2))
    assert resell[0].id == "repair_resell"
    assert [hinge.to for hinge in resell[0].hinges if hinge.words == "a worn main bearing"] == [
        "part_out"
    ]
    sure = dataclasses.replace(OWN, belief=np.array([0.0, 1.0, 0.0]))
    assert (
        compare(workshop_case(sure), np.random.default_rng(2))[0].id == "sell_as_is"
    )  # 2500 against 2400


def test_a_repair_that_pays_nobody_although_the_customer_would_pay():
    """A bearing in a machine of 13 years: 420 for 8 in 10 chances of what its last years are worth."""
    worth = Replacement(62_000).worth_minor(13)
    old = dataclasses.replace(
        CUSTOMER, belief=np.array([0.0, 1.0, 0.0]), worth_minor=worth, referral=None
    )
    first, *rest = compare(customer_case(old), np.random.default_rng(3))
    assert first.id in {"hand_back", "replace"}
    assert next(r for r in rest if r.id == "repair_hand_back").value_minor < -15_000


def played(own, rng):
    """One virtual job of the workshop's own machine, from the plain figures and not from the case."""
    h = rng.choice(own.belief.size, p=own.belief)

    def skewed(mean, spread):
        s2 = np.log1p(spread**2)
        return mean * rng.lognormal(-s2 / 2, np.sqrt(s2)) if mean else 0.0

    yields, rate, repair = skewed(own.parts_minor[h], 0.25), own.rate_minor / 60, own.repairing
    parting = yields - rate * own.parting_minutes
    resell = -rate * skewed(repair.minutes[h], 0.3) - skewed(repair.parts_minor[h], 0.1)
    if rng.random() < repair.works[h]:
        resell += skewed(own.resale_minor, 0.15) - rate * own.selling_minutes
        resell -= own.comeback_minor * (rng.random() < repair.returns[h])
    else:
        resell += parting
    as_is = skewed(own.as_is_minor, 0.3) - rate * own.selling_minutes
    return {"repair_resell": resell, "part_out": parting, "sell_as_is": as_is}


def test_eight_in_ten_virtual_jobs_of_the_workshop_end_within_the_range():
    """Thirty workshops with their own beliefs, prices and chances; each option by itself: 76 to 84 %."""
    rng, inside, total = (
        np.random.default_rng(21),
        dict.fromkeys(("repair_resell", "part_out", "sell_as_is"), 0),
        0,
    )
    for _ in range(30):
        repairing = dataclasses.replace(
            REPAIR, works=rng.uniform(0.6, 1.0, 3), minutes=rng.uniform(20, 200, 3)
        )
        belief, parts = rng.dirichlet(np.ones(3)), rng.uniform(4000, 12000, 3)
        own = dataclasses.replace(OWN, belief=belief, repairing=repairing, parts_minor=parts)
        ranges = {r.id: (r.low_minor, r.high_minor) for r in compare(workshop_case(own), rng)}
        for _ in range(100):
            total += 1
            for option, value in played(own, rng).items():
                inside[option] += ranges[option][0] <= value <= ranges[option][1]
    for option, count in inside.items():
        assert 0.76 <= count / total <= 0.84, option


def test_a_free_repair_of_nothing_has_no_unknowns():
    idle = Repairing(np.zeros(1), np.zeros(1), np.ones(1), np.zeros(1))
    own = dataclasses.replace(
        OWN,
        belief=np.ones(1),
        repairing=idle,
        parts_minor=np.zeros(1),
        as_is_minor=0.0,
        suspects={},
    )
    assert [item.id for item in workshop_case(own).unknowns] == ["resale"]


def test_impossible_repairs_are_refused():
    with pytest.raises(InputError):
        dataclasses.replace(REPAIR, works=np.array([1.2, 0.0, 0.0]))
    with pytest.raises(InputError):
        dataclasses.replace(REPAIR, minutes=np.array([-1.0, 0.0, 0.0]))


def test_what_is_spent_in_vain_widens_the_range_and_leaves_the_mean():
    """Half of the time the work is given up after a tenth of it: the mean cost is the same, the outcomes are not."""
    works = np.full(3, 0.5)
    flat = dataclasses.replace(
        REPAIR, works=works, returns=0.0 * works, minutes_spread=0.0, parts_spread=0.0
    )
    split = dataclasses.replace(
        flat, lost_minutes=0.1 * REPAIR.minutes, lost_parts_minor=0.1 * REPAIR.parts_minor
    )
    done, lost = split.spent(60.0)
    assert 0.5 * done + 0.5 * lost == pytest.approx(60.0 * REPAIR.minutes + REPAIR.parts_minor)
    assert lost == pytest.approx(0.1 * (60.0 * REPAIR.minutes + REPAIR.parts_minor))
    even, uneven = (workshop_case(dataclasses.replace(OWN, repairing=one)) for one in (flat, split))
    assert values(even) == pytest.approx(values(uneven))
    assert not np.allclose(even.options[0].values, uneven.options[0].values)


def test_a_customer_who_is_charged_for_a_try():
    tried = dataclasses.replace(CUSTOMER, unsuccessful_minor=np.array([1000.0, 2000.0, 0.0]))
    got = values(customer_case(tried))["repair_hand_back"]
    each = REPAIR.works * (30000 - CUSTOMER.price_minor - REPAIR.returns * 2000)
    each -= (1 - REPAIR.works) * tried.unsuccessful_minor
    assert got == pytest.approx(float(BELIEF @ each))
