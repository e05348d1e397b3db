"""Words of the catalog about motion mean a quantity, and the table of drawn machines bears them out.

"Can" is no claim; of a suspension without a model nothing can be tabulated.
"""

import re

import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.dynamics.effects.states import LOADS
from counterpoise.dynamics.effects.table import claims

# what each word means, as the direction of one of these quantities
WORDS = {
    r"swings too far|sways": {"pass_mm"},
    r"(?<!pieces )strikes": {"strike_n"},
    r"hangs low": {"low_mm"},
    r"hangs to one side|hangs nearer|hangs off the middle|hangs crooked": {"side_mm"},
    r"hammers": {"blows"},
    r"rocks": {"feet_up"},
    r"(?<!can )swing along": {"floor_mm"},
    r"takes the whole force": {"shake_m_s2"},
    r"wobbles on its own": {"twice_m_s2"},
    r"runs rough": {"rough_m_s2"},
}


def told():
    """Family, fault and word, of every fault with a model in motion."""
    for name in families():
        family = load_family(name)
        for fault in family.faults.values():
            against = family.features_against(dict(fault.needs), family.twin_needs)
            for word in WORDS:
                if fault.twin and not against and re.search(word, fault.means):
                    yield pytest.param(name, fault, word, id=f"{name}-{fault.id}-{word[:12]}")


@pytest.mark.parametrize(("name", "fault", "word"), list(told()))
def test_what_is_said_of_a_fault_shows_in_at_least_eighty_of_a_hundred(name, fault, word):
    # of whichever grade the words are
    borne_out = {
        claim.quantity
        for state in {fault.twin_of(key) for key in fault.keys}
        for load in LOADS
        for claim in claims(name, state, load, 2)
        if claim.direction > 0
    }
    assert borne_out & WORDS[word], fault.means


def test_the_words_are_in_use():
    assert len(list(told())) >= 12
    used = " ".join(f.means for n in families() for f in load_family(n).faults.values())
    assert all(re.search(word, used) for word in WORDS)
