"""Electrical safety after a repair: protective earth, insulation, leakage against the limits.

The limits are those of DIN VDE 0701-0702 / EN 50678 as told by overviews (the growth of the earth
limit with cord length and of the leakage limit with heater power from memory). Local code and
licensed practice decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy import special

from counterpoise.bench.cautions import DISCHARGE, DRAIN, LICENSED, NO_POWER, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result
from counterpoise.bench.readings import (
    EARTH_OHM,
    MEGOHM,
    METER_PERCENT,
    MILLIAMPERE,
    Span,
    possible,
)
from counterpoise.errors import ReadingError

SOURCE = "overviews of DIN VDE 0701-0702 / EN 50678"
# 1 with protective earth, 2 double insulated
CLASSES = (1, 2)
# A test passes only where the reading is within its limit as surely as this.
SURE = 0.95


@dataclass(frozen=True, slots=True)
class SafetyReadings:
    """What was measured, None where it was not. ``meter_percent``: the meter's error (sd), %."""

    # plug's earth pin to bare metal of the cabinet
    earth_ohm: float | None = None
    # live and neutral together against the cabinet, at 500 V (from memory)
    insulation_mohm: float | None = None
    # what flows back through the earth wire
    conductor_ma: float | None = None
    # what would flow through a hand on metal that is not earthed
    touch_ma: float | None = None
    meter_percent: float = 5.0


@dataclass(frozen=True, slots=True)
class Appliance:
    """Protection class (1 with protective earth, 2 without), heater in kW and cord in m."""

    protection_class: int = 1
    # heaters leak while they are new or damp, so their power raises the limits
    heater_kw: float = 2.0
    # a longer cord has more resistance of its own
    cord_m: float = 1.5

    def __post_init__(self) -> None:
        """Raises ReadingError for an appliance that cannot be."""
        if self.protection_class not in CLASSES:
            raise ReadingError(
                f"no class {self.protection_class}",
                field="protection_class",
                remedy="1 (earthed) or 2 (double square)",
            )
        possible(self.heater_kw, Span("a heater", 0.0, 10.0, "kW"), "heater_kw")
        possible(self.cord_m, Span("a cord", 0.0, 60.0, "m"), "cord_m")


@dataclass(frozen=True, slots=True)
class SafetyTest:
    """One test against its limit, in its ``unit``.

    ``verdict``: within, too near to tell, fails, not measured (``chance_within`` None).
    """

    name: str
    reading: Quantity | None
    limit: float
    # False: at least (insulation)
    at_most: bool
    unit: str
    chance_within: float | None
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Safety(Result):
    """All tests together. ``verdict``: within the limits, fails, not shown; None: not measured."""

    # in the order of doing
    earth: Quantity | None
    insulation: Quantity | None
    conductor: Quantity | None
    touch: Quantity | None
    tests: tuple[SafetyTest, ...]
    verdict: str


def earth_limit_ohm(cord_m: float) -> float:
    """0.3 ohm up to 5 m of cord, 0.1 more for every further 7.5 m begun, never over 1 ohm."""
    further = max(0.0, cord_m - 5.0)
    # minus the floor of the negative: rounded up, as a stretch begun counts whole
    return float(min(1.0, 0.3 + 0.1 * -(-further // 7.5)))


def conductor_limit_ma(heater_kw: float) -> float:
    """3.5 mA; with heaters over 3.5 kW 1 mA a kW, never over 10."""
    return float(min(10.0, max(3.5, heater_kw)))


def safety(readings: SafetyReadings, appliance: Appliance | None = None) -> Safety:
    """Judge each test, in the order of doing; what was not measured is not shown to be safe.

    Raises ReadingError for readings that cannot be.
    """
    possible(readings.meter_percent, METER_PERCENT, "meter_percent")
    appliance = appliance or Appliance()
    tests = _tests(readings, appliance)
    verdicts = [test.verdict for test in tests]
    # one failure is enough, whatever else is within its limit
    if "fails" in verdicts:
        verdict = "fails"
    else:
        verdict = "within the limits" if all(word == "within" for word in verdicts) else "not shown"
    by_name = {test.name: test.reading for test in tests}
    return Safety(
        earth=by_name.get("protective earth"),
        insulation=by_name["insulation"],
        conductor=by_name.get("protective conductor current"),
        touch=by_name["touch current"],
        tests=tests,
        verdict=verdict,
        sentence=_sentence(tests, verdict),
        cautions=(UNPLUGGED, DRAIN, DISCHARGE, NO_POWER, LICENSED),
    )


def _tests(readings: SafetyReadings, appliance: Appliance) -> tuple[SafetyTest, ...]:
    # Earth comes first: if it fails, the machine is not plugged in for the rest.
    earthed = appliance.protection_class == 1
    strict = 2.0 if not earthed else 0.3 if appliance.heater_kw > 3.5 else 1.0
    meter = readings.meter_percent
    tests = []
    if earthed:
        tests.append(
            _test(
                "protective earth",
                readings.earth_ohm,
                EARTH_OHM,
                earth_limit_ohm(appliance.cord_m),
                meter,
            )
        )
    tests.append(
        _test("insulation", readings.insulation_mohm, MEGOHM, strict, meter, at_most=False)
    )
    if earthed:
        limit = conductor_limit_ma(appliance.heater_kw)
        tests.append(
            _test("protective conductor current", readings.conductor_ma, MILLIAMPERE, limit, meter)
        )
    tests.append(_test("touch current", readings.touch_ma, MILLIAMPERE, 0.5, meter))
    return tuple(tests)


def _test(
    name: str,
    value: float | None,
    span: Span,
    limit: float,
    meter_percent: float,
    *,
    at_most: bool = True,
) -> SafetyTest:
    # a test that was not made is not passed
    if value is None:
        return SafetyTest(name, None, limit, at_most, span.unit, None, "not measured")
    possible(value, span, name)
    reading = Quantity.normal(value, value * meter_percent / 100, span.unit)
    # how far the reading is on the safe side of its limit, in its own doubt
    room = (limit - value) if at_most else (value - limit)
    chance = float(special.ndtr(room / reading.sd)) if reading.sd > 0 else float(room >= 0)
    verdict = "within" if chance >= SURE else "fails" if chance <= 0.5 else "too near to tell"
    return SafetyTest(name, reading, limit, at_most, span.unit, chance, verdict)


def _sentence(tests: tuple[SafetyTest, ...], verdict: str) -> str:
    each = "; ".join(_test_words(test) for test in tests)
    end = {
        "fails": "Do not plug it in and do not hand it over.",
        "not shown": "Not shown to be safe: measure what is missing; near a limit, use a better "
        "meter.",
        "within the limits": "Within these limits.",
    }[verdict]
    return f"{each}. {end} {LICENSED.text}"


def _test_words(test: SafetyTest) -> str:
    bound = f"limit {'at most' if test.at_most else 'at least'} {test.limit:g} {test.unit}"
    return (
        f"{test.name} {'' if test.reading is None else f'{test.reading}, '}{bound}: {test.verdict}"
    )
