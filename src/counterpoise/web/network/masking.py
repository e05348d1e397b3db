"""Sums of money taken out of an answer, for whoever is not to see them.

On the last step before it is sent: sentences that were worked out beforehand hold sums too, and
whoever adds a page cannot forget it.
"""

from __future__ import annotations

import json
import re

HIDDEN = "–"
# As shown in any of our languages: 12.50 EUR, 1 200,00 EUR, −3 EUR, 47 to 86 EUR, 47 bis 86 EUR.
_NUMBER = r"[−+-]?\d(?:[\d.,\u00a0]*\d)?"
_MARK = "_minor"


def without_sums(text: str, currency: str) -> str:
    """A text with each amount of a currency (ISO 4217) replaced by a dash."""
    span = rf"{_NUMBER}(?:[ \u00a0](?:to|bis|and|und)[ \u00a0]{_NUMBER})?[ \u00a0]?"
    return re.sub(rf"{span}{re.escape(currency)}\b", HIDDEN, text)


def masked_json(body: bytes, currency: str) -> bytes:
    """JSON (UTF-8) whose sums are null, and whose sentences name none."""
    # read and written anew: a number among others has no mark but its name
    return json.dumps(_masked(json.loads(body), currency), ensure_ascii=False).encode()


def _masked(value: object, currency: str, name: str = "") -> object:
    if isinstance(value, dict):
        return {key: _masked(each, currency, str(key)) for key, each in value.items()}
    if isinstance(value, list):
        return [_masked(each, currency, name) for each in value]
    if isinstance(value, str):
        return without_sums(value, currency)
    # by the name: every sum of ours says that it is in minor units
    return None if name.endswith(_MARK) or name == "minor" else value
