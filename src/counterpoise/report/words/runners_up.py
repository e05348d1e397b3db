"""What a runner-up costs, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.report.words.numbers import money

if TYPE_CHECKING:
    from counterpoise.workshop.diagnosis.assessment import Rival


def instead(rival: Rival, currency: str) -> str:
    """What doing a runner-up instead costs on average, with the error of that, from minor units."""
    # an error below a cent would read like a slip of the pen
    error = f", give or take {money(rival.error_minor, currency)}" if rival.error_minor > 0 else ""
    if rival.about_as_good:
        return f"about as good{error}"
    # the careful step, or one that evidence prescribes, may be behind by the figures as written
    if rival.loss_minor < 0:
        return f"better than the advised step by {money(-rival.loss_minor, currency)}{error}"
    return f"worse than the advised step by {money(rival.loss_minor, currency)}{error}"
