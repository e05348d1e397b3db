"""A number with its range and its source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Value:
    """Default, range, unit and provenance of one family value; a range holds both its ends."""

    default: float
    low: float
    high: float
    unit: str
    source: str
    # pieces: only whole numbers
    whole: bool = False
    # False: random machines keep the default
    drawn: bool = True
