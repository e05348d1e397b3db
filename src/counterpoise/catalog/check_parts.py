"""What belongs to checks: the number that one asks for, and checks that look at one thing."""

from __future__ import annotations

from dataclasses import dataclass

# The id under which a family lists a recording of a spin among its checks; the outcomes are the
# groups that a recording tells.
RECORDING = "spin_recording"
# The same with a towel of known weight tied in.
TEST_LOAD = "spin_test_load"


@dataclass(frozen=True, slots=True)
class Reading:
    """A number a check asks for; ``edges`` divide it into the outcomes, ``sd``: its usual error.

    ``falling`` means that a lower number is the worse outcome.
    """

    quantity: str
    unit: str
    # ascending; one fewer than outcomes
    edges: tuple[float, ...]
    low: float
    high: float
    # standard error of a practised hand, in the unit of the reading
    sd: float
    falling: bool = False


@dataclass(frozen=True, slots=True)
class SameThing:
    """Checks that look at one thing, so that what misleads one of them misleads the others.

    ``misled``: chance that all their findings are those of some other machine.
    """

    id: str
    title: str
    checks: tuple[str, ...]
    misled: float
    source: str
    # the owner's complaints belong to it as well
    complaints: bool = False
