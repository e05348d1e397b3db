"""Cells of tables that leave the workshop, and of those that come back."""

from __future__ import annotations

# some table programs run a cell that begins so
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(text: str) -> str:
    """A text as it can stand in a cell: one that a table program would run gets an apostrophe."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def without_apostrophe(text: str) -> str:
    """A cell that :func:`safe_cell` wrote, as it was; an apostrophe of its own stays."""
    return text[1:] if text[:1] == "'" and text[1:2] in tuple("=+-@") else text
