"""Figures as suppliers write them: prices with point or comma, marks for thousands, signs of currencies."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

MOST_PRICE_MINOR = 100_000_00
_BLANKS = dict.fromkeys(map(ord, " \u00a0\u2009\u202f'’"))
_SIGNS = {"€": "EUR", "£": "GBP", "$": "$", "¥": "¥"}
_SHARED = {
    "$": ("USD", "AUD", "CAD", "NZD", "SGD", "HKD", "TWD"),
    "¥": ("JPY", "CNY"),
}  # signs of several currencies
_CODE = re.compile(r"^([A-Z]{3})?(.*?)([A-Z]{3})?$")
_DASHED = re.compile(r"[.,][-–—]+$")  # "12,-"
_FIGURE = re.compile(r"[0-9][0-9.,]*|[.,][0-9]+")


def bare(text: str) -> tuple[str, str]:
    """A price without blanks and currency: (figure, code or "")."""
    figure, code = text.translate(_BLANKS), ""
    for sign, name in _SIGNS.items():
        if sign in figure:
            figure, code = figure.replace(sign, ""), code or name
    found = _CODE.match(figure)
    if found:
        code, figure = code or found[1] or found[3] or "", found[2]
    return _DASHED.sub("", figure), code


def is_currency(code: str, currency: str) -> bool:
    """Whether a code or sign can mean the currency."""
    return code == currency or currency in _SHARED.get(code, ())


def decimal_mark(prices: Iterable[str]) -> str:
    """Point or comma, whichever the prices of a list use before the cents; empty where they do not tell."""
    votes = {".": 0, ",": 0}
    for text in prices:
        mark = _mark_of(bare(text)[0])
        if mark:
            votes[mark] += 1
    if not any(votes.values()):
        return ""
    return "," if votes[","] > votes["."] else "."


def _mark_of(figure: str) -> str:
    """The mark before the cents of one figure, where it can only be that."""
    last = max(figure.rfind("."), figure.rfind(","))
    if not _FIGURE.fullmatch(figure) or last < 0:
        return ""
    mark, other = figure[last], ",."[figure[last] == ","]
    if other in figure:
        return mark if figure.count(mark) == 1 else ""
    if figure.count(mark) > 1:
        return other  # marks thousands, so the cents would have the other
    return "" if len(figure) - last == 4 else mark


def read_price(text: str, mark: str) -> int:
    """Minor units of a price in a list that uses this mark. Raises ValueError saying what is wrong with it."""
    figure = bare(text)[0]
    if not figure:
        raise ValueError("there is no price")
    if figure.startswith(("-", "−", "–")):
        raise ValueError(f"{text[:30]!r} is below zero")
    if not _FIGURE.fullmatch(figure) or len(figure) > 20:
        raise ValueError(f"{text[:30]!r} is no price")
    if not mark and ("." in figure or "," in figure):
        raise ValueError(f"{text[:30]!r} may be thousands or parts of one")
    minor = _scaled(figure, mark or ".", text)
    if minor == 0:
        raise ValueError("the price is 0")
    if minor > MOST_PRICE_MINOR:
        raise ValueError(f"{text[:30]!r} is too much for a part")
    return minor


def _scaled(figure: str, mark: str, text: str) -> int:
    thousands = "." if mark == "," else ","
    whole, _, rest = figure.partition(mark)
    if mark in rest or thousands in rest:
        raise ValueError(f"{text[:30]!r} has its marks in the wrong places")
    groups = whole.split(thousands)
    if len(groups) > 1 and (
        not 1 <= len(groups[0]) <= 3 or any(len(group) != 3 for group in groups[1:])
    ):
        raise ValueError(f"{text[:30]!r} has a {thousands!r} where this list writes {mark!r}")
    if rest.rstrip("0")[2:]:
        raise ValueError(f"{text[:30]!r} has parts of a cent")
    return int(Decimal(f"{''.join(groups) or 0}.{rest[:2] or 0}").scaleb(2))


def read_whole(text: str, low: int, high: int) -> int:
    """A whole number in words' company, like ``10 pcs`` or ``3 days``. Raises ValueError."""
    found = re.fullmatch(r"(\d{1,6})(?:[.,]0+)?\s*[^\W\d]{0,12}\.?", text.strip())
    if not found or not low <= int(found[1]) <= high:
        raise ValueError(f"{text[:30]!r} is no whole number from {low} to {high}")
    return int(found[1])
