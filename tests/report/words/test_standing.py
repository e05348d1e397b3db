"""A suspect and a value in words that say what they are."""

from types import SimpleNamespace

import pytest

from counterpoise.report.words.standing import bounds, standing
from counterpoise.workshop.diagnosis.assessment import Suspect


@pytest.mark.parametrize(
    ("probability", "word", "first", "said"),
    [
        (0.10, "unlikely", True, "likeliest so far, 10 %"),
        (0.10, "unlikely", False, "unlikely 10 %"),
        (0.27, "possible", True, "likeliest so far, 27 %"),
        (0.52, "likely", True, "likely 52 %"),
        (0.003, "hardly", False, "hardly under 1 %"),
    ],
)
def test_the_first_of_all_is_never_called_unlikely(probability, word, first, said):
    suspect = Suspect("x", "X", "", probability, word)
    assert standing(suspect, first).replace("\u00a0", " ") == said


def test_bounds_read_as_the_least_and_the_most():
    value = SimpleNamespace(lower_minor=-4700, upper_minor=8600)
    assert bounds(value, "EUR").replace("\u2212", "-") == "at least -47, at best 86 EUR"
