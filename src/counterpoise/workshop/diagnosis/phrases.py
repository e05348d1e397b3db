"""Small pieces of text that several answers share."""

from __future__ import annotations

from counterpoise.money.amount import show


def amount(minor: int, currency: str) -> str:
    """Money as it is read aloud, from minor units: ``14.20 EUR``."""
    return show(minor, currency)


def minutes_text(minutes: float) -> str:
    """Bench minutes in words: ``half a minute``, ``1 minute``, ``12 minutes``."""
    if minutes < 0.75:
        return "half a minute"
    whole = round(minutes)
    return "1 minute" if whole == 1 else f"{whole} minutes"


SAFE_ENDING = "Nothing that could still be found or mended is sure to be worth more than this."
SAME_STEP = "Careful: this step holds up over the range in which the catalog's figures may lie."


def careful_text(title: str, figures: tuple[int, int, int], currency: str) -> str:
    """What the careful step costs and brings beside the step ``title``.

    ``figures``: (cost, mean, worst) in minor units.
    """
    cost, mean, worst = figures
    over = "more" if mean >= 0 else "less"
    end = "better" if worst >= 0 else "worse"
    return (
        f'Careful: without it the step would be "{title}". This one earns'
        f" {amount(max(cost, 0), currency)} less if the catalog's figures are right,"
        f" {amount(abs(mean), currency)} {over} on average where they may be off, and the worst"
        f" quarter of that ends {amount(abs(worst), currency)} {end}."
    )


def again(title: str) -> str:
    """What a check is called where it is done a second time."""
    return f"{title}, again"


def how_rare(chance: float) -> str:
    """How often findings as strange as this come, in machines of a hundred or a thousand."""
    share, of = (chance * 100, 100) if chance >= 0.005 else (chance * 1000, 1000)
    count = round(share)
    return f"of {of} machines with the other findings {count or 'hardly one'} would show this"
