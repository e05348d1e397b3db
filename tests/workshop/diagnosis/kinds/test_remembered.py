"""What was worked out of a family is kept with it: the last few, once each, and gone with it."""

import gc
import weakref

from tests.workshop.small import FAMILY

from counterpoise.workshop.diagnosis import family_model as module
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import kinds_of
from counterpoise.workshop.diagnosis.kinds.layout import layout_of
from counterpoise.workshop.diagnosis.kinds.remembered import Remembered


def test_each_is_computed_once_and_only_the_last_are_kept():
    kept, asked = Remembered(), []

    def of(name, key):
        return kept.of(name, key, lambda: asked.append((name, key)) or f"{name} {key}", 2)

    assert [of("a", 1), of("a", 1), of("b", 1), of("a", 2)] == ["a 1", "a 1", "b 1", "a 2"]
    assert asked == [("a", 1), ("b", 1), ("a", 2)]
    of("a", 1)
    of("a", 3)
    # of three the one asked for longest ago went
    of("a", 1)
    assert asked == [("a", 1), ("b", 1), ("a", 2), ("a", 3)]
    of("a", 2)
    assert asked[-1] == ("a", 2)


def test_what_is_kept_of_a_family_does_not_keep_the_family():
    model = module.family_model.__wrapped__(FAMILY)
    kinds = kinds_of(FAMILY, {})
    assert layout_of(model, kinds) is layout_of(model, kinds)
    assert (joint_prior(model, 7.0, kinds) == joint_prior(family_model(FAMILY), 7.0, kinds)).all()
    gone = weakref.ref(model)
    del model
    gc.collect()
    assert gone() is None
