"""Amounts of money: integer minor units and an ISO 4217 code; every rounding is exact.

Exact intermediate amounts are :class:`fractions.Fraction` of a minor unit; nothing is rounded
twice.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal, get_args

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Rounding = Literal["half_up", "half_down", "half_even", "up", "down"]
ROUNDINGS: tuple[Rounding, ...] = get_args(Rounding)
# what an exact amount may be given as; floats go through their shortest decimal form
Exact = int | float | Decimal | Fraction

# Digits after the point by ISO 4217 (from memory); currencies of two digits are listed too, so that
# a slip of the pen is caught.
_DIGITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF",
    2: "AED ALL AMD ANG AOA ARS AUD AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BWP BYN BZD CAD "
    "CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ETB EUR FJD GBP GEL GHS GIP GMD GTQ HKD "
    "HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KZT LAK LBP LKR MAD MDL MGA MKD MMK MNT "
    "MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR "
    "RON RSD RUB SAR SBD SCR SEK SGD SOS SRD SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH "
    "USD UYU UZS VES WST XCD YER ZAR ZMW",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
EXPONENTS: Mapping[str, int] = MappingProxyType(
    {c: n for n, codes in _DIGITS.items() for c in codes.split()}
)

# The smallest coin in use where it is more than one minor unit (from memory; a workshop can set its
# own).
CASH_STEPS: Mapping[str, int] = MappingProxyType(
    {
        "AUD": 5,
        "CAD": 5,
        "CHF": 5,
        "CZK": 100,
        "DKK": 50,
        "HUF": 500,
        "NOK": 100,
        "NZD": 10,
        "SEK": 100,
    }
)
# a price of a repair needs no gap, a month's takings do
GAP = "\N{NO-BREAK SPACE}"  # neither comma nor point: each is a decimal mark somewhere
_GROUPED_FROM = 10_000  # whole units; below it a gap between the thousands only gets in the way
# the true minus: a hyphen is lost before a number at the end of a line
MINUS = "−"
_NUMBER = re.compile(r"[+-]?\d+(?:[.,](\d+))?")


def exponent(currency: str) -> int:
    """Digits after the point for an ISO 4217 code; raises InputError for one not in the table."""
    try:
        return EXPONENTS[currency]
    except KeyError:
        raise InputError(
            f"{currency!r} is not a currency known here",
            field="currency",
            remedy="Give a code of ISO 4217 in capitals, such as EUR",
        ) from None


def exact(value: Exact) -> Fraction:
    """The exact fraction a person means: the float 0.1 is a tenth, not its binary neighbour."""
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError(f"{value} is no amount", remedy="Give a finite number")
        # repr is the shortest decimal that means this float, which is what was typed
        return Fraction(repr(float(value)))
    return Fraction(value)


def round_minor(value: Exact, mode: Rounding = "half_up") -> int:
    """Round to a whole minor unit.

    ``half_up`` and ``up`` go away from zero, ``half_down`` and ``down`` towards it.
    """
    fraction = exact(value)
    # rounding is defined on the size, so that a credit rounds like the charge it takes back
    size = abs(fraction)
    # integer division of the fraction: no float can tip a half to either side
    whole = size.numerator // size.denominator
    rest = size - whole
    half = Fraction(1, 2)
    more = {
        "half_up": rest >= half,
        "half_down": rest > half,
        "half_even": rest > half or (rest == half and whole % 2 == 1),
        "up": rest > 0,
        "down": False,
    }[mode]
    # 0 has no sign as an integer, so -0.4 rounds to plain 0
    return int(math.copysign(1, fraction)) * (whole + more)


def percent(amount: Exact, rate_percent: Exact) -> Fraction:
    """Take a percentage of an amount, exactly."""
    # multiplied before dividing, all in fractions: 19 % of 0.10 is not rounded here
    return exact(amount) * exact(rate_percent) / 100


def to_step(minor: int, step: int, mode: Rounding = "half_up") -> int:
    """Round to a multiple of ``step`` minor units, as for cash where small coins are gone."""
    if step < 1:
        raise InputError(
            f"a cash step of {step} is not possible",
            field="step",
            remedy="Give 1 or more minor units",
        )
    # in steps first: rounding to minor units and then to coins would round twice
    return step * round_minor(Fraction(minor, step), mode)


def settle(lines: Sequence[Exact], total: int) -> tuple[int, ...]:
    """Whole minor units for each line that add up to ``total``, by largest remainder.

    ``total`` is the sum of the exact lines, rounded either way; each result is then within one
    minor unit of its line, and lines that are whole already stay as they are. Ties go to the
    earlier line.
    """
    parts = [exact(line) for line in lines]
    # largest remainder method: whoever lost most by flooring gets the missing units first
    floors = [math.floor(part) for part in parts]
    missing = total - sum(floors)
    # lines that are whole already must stay, so no more units than broken lines can be given
    if not 0 <= missing <= sum(part.denominator > 1 for part in parts):
        raise InputError(
            f"the lines do not add up to {total}",
            remedy="Give the total of these very lines, rounded",
        )
    order = sorted(range(len(parts)), key=lambda i: (floors[i] - parts[i], i))
    # ties go to the earlier line, so that the same order gives the same bill
    raised = set(order[:missing])
    return tuple(floor + (i in raised) for i, floor in enumerate(floors))


def round_lines(lines: Sequence[Exact], mode: Rounding = "half_up") -> tuple[tuple[int, ...], int]:
    """(lines, total) in minor units: total rounded once, lines so that they add up to it."""
    # the start value matters: the sum of no lines must be a fraction, too
    total = round_minor(sum((exact(line) for line in lines), Fraction(0)), mode)
    return settle(lines, total), total


def split(total: int, weights: Sequence[Exact]) -> tuple[int, ...]:
    """Share a total out in proportion to weights (>= 0, not all 0), to the minor unit."""
    shares = [exact(weight) for weight in weights]
    # negative weights would let one share grow beyond the total
    if not shares or min(shares) < 0 or not any(shares):
        raise InputError(
            "the weights must be 0 or more, and not all 0",
            field="weights",
            remedy="Give other weights",
        )
    # the same largest remainder as on a bill, so no unit is lost or invented
    return settle([total * share / sum(shares) for share in shares], total)


def show(minor: int, currency: str) -> str:
    """Write an amount as people read it, on pages, paper and terminal alike.

    >>> show(9600, "EUR"), show(-5, "EUR"), show(1250, "JPY"), show(1234, "KWD")
    ('96.00 EUR', '−0.05 EUR', '1250 JPY', '1.234 KWD')
    """
    digits = exponent(currency)
    # sign apart: divmod rounds towards minus infinity and would show -0.05 as -1.95
    whole, rest = divmod(abs(minor), 10**digits)
    right = f".{rest:0{digits}d}" if digits else ""
    return f"{MINUS if minor < 0 else ''}{_grouped(whole)}{right} {currency}"


def show_about(minor: float, currency: str) -> str:
    """Write an amount in whole units, for sentences where the smallest coin would feign precision.

    >>> show_about(9649.6, "EUR"), show_about(-20, "EUR")
    ('96 EUR', '0 EUR')
    """
    units = round_minor(exact(float(minor)) / 10 ** exponent(currency), "half_even")
    # after rounding: what comes to nothing is not shown as '-0'
    return f"{MINUS if units < 0 else ''}{_grouped(abs(units))} {currency}"


def _grouped(units: int) -> str:
    return f"{units:,}".replace(",", GAP) if units >= _GROUPED_FROM else str(units)


def read(text: str, currency: str) -> int:
    """Read minor units from typed text: point or comma before the smaller unit.

    No marks for thousands but the gap that :func:`show` writes.

    >>> read("96", "EUR"), read("96,5", "EUR"), read("-1.234 KWD", "KWD")
    (9600, 9650, -1234)
    """
    digits = exponent(currency)
    # the currency may stand behind, as show() writes it
    number = text.strip().removesuffix(currency).strip().replace(MINUS, "-").replace(GAP, "")
    found = _NUMBER.fullmatch(number)
    # a third digit after the point may be a mark for thousands: refused rather than guessed
    if not found or len(found[1] or "") > digits:
        raise InputError(
            f"{text.strip()!r} is no amount in {currency}",
            field="amount",
            remedy=f"Write it like {show(123 * 10**digits + 10**digits // 2, currency)}, "
            "without marks for thousands",
        )
    # Decimal: float('0.29') * 100 is 28.999...
    return int(Decimal(number.replace(",", ".")).scaleb(digits))
