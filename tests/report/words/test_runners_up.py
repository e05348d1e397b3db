"""What a runner-up costs, in words: with the error of it, and no cost where there is none."""

import pytest

from counterpoise.report.words.runners_up import instead
from counterpoise.workshop.diagnosis.assessment import Rival


@pytest.mark.parametrize(
    ("loss", "error", "as_good", "said"),
    [
        (540, 120, False, "worse than the advised step by 5.40 EUR, give or take 1.20 EUR"),
        (18, 0, False, "worse than the advised step by 0.18 EUR"),
        (90, 120, True, "about as good, give or take 1.20 EUR"),
        (-90, 120, True, "about as good, give or take 1.20 EUR"),
        (0, 0, True, "about as good"),
        (-310, 40, False, "better than the advised step by 3.10 EUR, give or take 0.40 EUR"),
    ],
)
def test_what_doing_it_instead_costs(loss, error, as_good, said):
    rival = Rival("check", "look", "Look", 2.0, loss, error_minor=error, about_as_good=as_good)
    assert instead(rival, "EUR") == said
