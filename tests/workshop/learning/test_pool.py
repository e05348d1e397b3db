"""Pools: merged in any order, judged, left again; and what a file of one may hold."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import betabinom
from tests.workshop.learning.jobs_of import DAMPERS, DRUM, FAMILY, FEET

from counterpoise.errors import InputError
from counterpoise.learning.pooling import Start, tail, together
from counterpoise.workshop.learning.pool.contribution import (
    Contribution,
    merged,
    read_contributions,
    rounded,
)
from counterpoise.workshop.learning.pool.figures import misfits, pooled

PRIOR = f"faults.{DAMPERS}.prior"
KEYS = [Ed25519PrivateKey.from_private_bytes(bytes([n]) * 32) for n in range(40)]
NAMES = [key.public_key().public_bytes_raw().hex() for key in KEYS]


def contribution(n, counts, *, revision=1, left=False):
    families = {} if left else {FAMILY.id: counts}
    return Contribution(NAMES[n], revision, "2026-Q3", left, families).signed(KEYS[n])


def honest(rng, shops, mean=0.3, alike=60.0):
    """Workshops whose three faults and two rows come as one law says, rounded as files are."""
    out = []
    for n in range(shops):
        counts = {}
        places = (PRIOR, f"faults.{DRUM}.prior", f"faults.{FEET}.prior",
                  "checks.push.under.damper_worn.bad", "checks.turn.under.bearing_worn.bad")  # fmt: skip
        for place in places:
            of = int(rng.integers(20, 300))
            yes = rng.binomial(of, rng.beta(mean * alike, (1 - mean) * alike))
            pair = rounded(yes, of, KEYS[n], f"{rng.integers(1 << 60)}")
            counts[place] = pair
        out.append(contribution(n, counts))
    return out


@st.composite
def pools(draw):
    return [
        contribution(n, {PRIOR: (yes * 5, 50)}, revision=revision, left=left)
        for n, revision, yes, left in draw(
            st.lists(
                st.tuples(st.integers(0, 3), st.integers(1, 3), st.integers(0, 10), st.booleans()),
                max_size=6,
            )
        )
    ]


@settings(deadline=None, max_examples=60)
@given(pools(), pools(), pools())
def test_merging_is_associative_commutative_and_idempotent(a, b, c):
    def join(*parts):
        return list(merged([each for part in parts for each in part]).values())

    assert join(a, b) == join(b, a)
    assert join(join(a, b), c) == join(a, join(b, c))
    assert join(a, a) == join(a)
    assert join(join(a, b), b) == join(a, b)


def test_leaving_restores_the_numbers_and_an_older_file_does_not_bring_it_back():
    rng = np.random.default_rng(1)
    others = honest(rng, 6)
    ours = contribution(20, {PRIOR: (40, 100)})
    before = pooled(FAMILY, others)
    joined = list(merged([*others, ours]).values())
    assert pooled(FAMILY, joined)[PRIOR] != before[PRIOR]
    away = contribution(20, {}, revision=2, left=True)
    for order in ([*joined, away], [away, *joined, ours]):
        after = list(merged(order).values())
        assert pooled(FAMILY, sorted(after, key=lambda e: [*NAMES].index(e.workshop))) == before


def test_the_law_of_others_by_brute_force_and_by_scipy():
    law = Start(0.3, 50.0, 9)
    for yes, of in ((0, 40), (10, 40), (30, 40), (40, 40)):
        exact = betabinom(of, 15.0, 35.0)
        expected = min(1.0, 2 * min(exact.cdf(yes + 5), exact.sf(yes - 6)))
        assert tail(yes, of, law) == pytest.approx(expected, rel=1e-6)
    # alone, one workshop is a Beta law worth 40 jobs that counts as far as workshops are alike
    alone = together(0.2, 40.0, np.array([30.0]), np.array([60.0]))
    weight = 1 / (1 + 59 / 41)
    assert alone.mean == pytest.approx((8 + weight * 30) / (40 + weight * 60))
    assert alone.worth == 40.0
    # many that are all the same are worth more than what is written, and say what they have
    many = together(0.2, 40.0, np.full(30, 30.0), np.full(30, 100.0))
    assert many.mean == pytest.approx(0.3, abs=0.01)
    assert 100 < many.worth <= 400
    # many that differ are worth no more than the catalog
    wild = together(0.2, 40.0, np.array([0.0, 100.0] * 15), np.full(30, 100.0))
    assert wild.worth == 40.0


def test_a_poisoned_workshop_is_out_and_honest_ones_stay():
    rng = np.random.default_rng(3)
    families, alarms, caught, runs = {FAMILY.id: FAMILY}, 0, 0, 15
    for _ in range(runs):
        pool = honest(rng, 12)
        alarms += len(misfits(families, pool))
        counts = dict(pool[0].families[FAMILY.id])
        counts[PRIOR] = (counts[PRIOR][1], counts[PRIOR][1])
        # as good as always there, whatever the others have
        bad = contribution(30, counts | {PRIOR: (150, 160)})
        out = misfits(families, [*pool[1:], bad])
        caught += bad.workshop in out
        alarms += len([each for each in out if each != bad.workshop])
        if bad.workshop in out:
            assert "150 of 160" in out[bad.workshop]
    assert caught == runs
    assert alarms <= 2


def test_rounding_by_chance_keeps_the_mean_and_never_says_one_to_four():
    pairs = [rounded(1.0, 52.0, KEYS[0], str(n)) for n in range(4000)]
    assert {yes for yes, _ in pairs} == {0, 5}
    assert np.mean([yes for yes, _ in pairs]) == pytest.approx(1.0, abs=0.12)
    assert {of for _, of in pairs} == {50, 55}
    assert rounded(2.0, 4.9, KEYS[0], "few") is None
    # asked again it is the same draw: no second file tells more than the first
    assert rounded(1.0, 52.0, KEYS[0], "7") == pairs[7]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"customer": "somebody"}, "does not belong"),
        ({"quarter": "2026-03-14"}, "quarter"),
        ({"revision": 2}, "changed or damaged"),
        ({"signature": "AAAA"}, "signature"),
        ({"families": {FAMILY.id: {"faults.x.prior": [1, 50]}}}, "no counts in fives"),
        ({"families": {FAMILY.id: {"my note": [5, 50]}}}, "no place"),
        ({"format": "other"}, "no contribution"),
    ],
)
def test_what_is_no_contribution_is_refused(change, said):
    body = contribution(1, {PRIOR: (20, 100)}).to_json()
    assert read_contributions(json.dumps(body)) == [contribution(1, {PRIOR: (20, 100)})]
    with pytest.raises(InputError, match=re.escape(said)):
        read_contributions(json.dumps(body | change))


def test_a_signature_of_another_is_refused():
    forged = replace(contribution(1, {PRIOR: (20, 100)}), workshop=NAMES[2]).signed(KEYS[1])
    with pytest.raises(InputError, match="signature is not"):
        read_contributions(json.dumps(forged.to_json()))
