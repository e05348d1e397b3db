"""Small pieces of text that several answers share."""

from __future__ import annotations

from counterpoise.money.amount import show


def amount(minor: int, currency: str) -> str:
    """Money as it is read aloud: ``14.20 EUR``."""
    return show(minor, currency)


def minutes_text(minutes: float) -> str:
    """Bench time in words: ``under a minute``, ``1 minute``, ``12 minutes``."""
    if minutes < 0.75:
        return "half a minute"
    whole = round(minutes)
    return "1 minute" if whole == 1 else f"{whole} minutes"
