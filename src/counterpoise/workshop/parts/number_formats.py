"""Figures as suppliers write them: point or comma, marks for thousands, signs of currencies."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

# more than a new machine: the comma slipped
MOST_PRICE_MINOR = 100_000_00
# blanks of every width, and the apostrophe that marks thousands in Switzerland
_BLANKS = dict.fromkeys(map(ord, " \u00a0\u2009\u202f'’"))
# a sign of several currencies stays a sign until the workshop's own is known
_SIGNS = {"€": "EUR", "£": "GBP", "$": "$", "¥": "¥"}
# signs of several currencies
_SHARED = {
    "$": ("USD", "AUD", "CAD", "NZD", "SGD", "HKD", "TWD"),
    "¥": ("JPY", "CNY"),
}
# three capitals before or after: EUR 38.50, 38.50 EUR
_CODE = re.compile(r"^([A-Z]{3})?(.*?)([A-Z]{3})?$")
# "12,-" for whole amounts
_DASHED = re.compile(r"[.,][-–—]+$")
# digits and marks only, also ".50"; what else is in a cell is words
_FIGURE = re.compile(r"[0-9][0-9.,]*|[.,][0-9]+")


def bare(text: str) -> tuple[str, str]:
    """A price without blanks and currency: (figure, code), either empty where it is not there."""
    figure, code = text.translate(_BLANKS), ""
    for sign, name in _SIGNS.items():
        if sign in figure:
            figure, code = figure.replace(sign, ""), code or name
    parts = _CODE.match(figure)
    if parts:
        code, figure = code or parts[1] or parts[3] or "", parts[2]
    return _DASHED.sub("", figure), code


def is_currency(code: str, currency: str) -> bool:
    """Whether a code or sign can mean the currency (ISO 4217): "$" is the sign of several."""
    return code == currency or currency in _SHARED.get(code, ())


def decimal_mark(prices: Iterable[str]) -> str:
    """Point or comma, whichever the prices of a list use before the cents.

    Empty where they do not show it: all whole, or all with three digits behind a mark.
    """
    # one list, one habit: a single cell can rarely be told, all of them nearly always can
    votes = {".": 0, ",": 0}
    for text in prices:
        mark = _mark_of(bare(text)[0])
        if mark:
            votes[mark] += 1
    if not any(votes.values()):
        return ""
    # a tie goes to the point, as programs write it
    return "," if votes[","] > votes["."] else "."


def _mark_of(figure: str) -> str:
    """The mark before the cents of one figure, where it can only be that."""
    last = max(figure.rfind("."), figure.rfind(","))
    if not _FIGURE.fullmatch(figure) or last < 0:
        return ""
    mark, other = figure[last], ",."[figure[last] == ","]
    # with both marks in it, the last stands before the cents
    if other in figure:
        return mark if figure.count(mark) == 1 else ""
    if figure.count(mark) > 1:
        return other  # marks thousands, so the cents would have the other
    # three digits behind a single mark are thousands or parts of one: no vote
    return "" if len(figure) - last == 4 else mark


def read_price(text: str, mark: str) -> int:
    """Minor units of a price in a list that uses this mark before the cents.

    Raises ValueError saying what is wrong with it.
    """
    figure = bare(text)[0]
    if not figure:
        raise ValueError("there is no price")
    # said apart from "no price": a credit note was taken for a list
    if figure.startswith(("-", "−", "–")):
        raise ValueError(f"{text[:30]!r} is below zero")
    if not _FIGURE.fullmatch(figure) or len(figure) > 20:
        raise ValueError(f"{text[:30]!r} is no price")
    # 1.500 is fifteen hundred or one and a half: nobody can tell, so somebody is asked
    if not mark and ("." in figure or "," in figure):
        raise ValueError(f"{text[:30]!r} may be thousands or parts of one")
    minor = _scaled(figure, mark or ".", text)
    # a price of nothing is a cell that was left blank by a program
    if minor == 0:
        raise ValueError("the price is 0")
    if minor > MOST_PRICE_MINOR:
        raise ValueError(f"{text[:30]!r} is too much for a part")
    return minor


def _scaled(figure: str, mark: str, text: str) -> int:
    """Minor units of a figure; Decimal, for no binary fraction is a cent."""
    thousands = "." if mark == "," else ","
    whole, _, rest = figure.partition(mark)
    if mark in rest or thousands in rest:
        raise ValueError(f"{text[:30]!r} has its marks in the wrong places")
    # thousands stand in groups of three, or the mark was not for thousands
    groups = whole.split(thousands)
    if len(groups) > 1 and (
        not 1 <= len(groups[0]) <= 3 or any(len(group) != 3 for group in groups[1:])
    ):
        raise ValueError(f"{text[:30]!r} has a {thousands!r} where this list writes {mark!r}")
    # prices of screws by the thousand have such; rounded they would be wrong a thousand times
    if rest.rstrip("0")[2:]:
        raise ValueError(f"{text[:30]!r} has parts of a cent")
    return int(Decimal(f"{''.join(groups) or 0}.{rest[:2] or 0}").scaleb(2))


def read_whole(text: str, low: int, high: int) -> int:
    """A whole number with or without a unit, like ``10 pcs`` or ``3 days``. Raises ValueError."""
    number = re.fullmatch(r"(\d{1,6})(?:[.,]0+)?\s*[^\W\d]{0,12}\.?", text.strip())
    if not number or not low <= int(number[1]) <= high:
        raise ValueError(f"{text[:30]!r} is no whole number from {low} to {high}")
    return int(number[1])
