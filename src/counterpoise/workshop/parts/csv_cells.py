"""Cells of tables that leave the workshop."""

from __future__ import annotations

_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a cell that begins so is run by some table programs


def harmless(text: str) -> str:
    """A text as it can stand in a cell: one that a table program would run begins with an apostrophe."""
    return f"'{text}" if text.startswith(_FORMULA) else text
