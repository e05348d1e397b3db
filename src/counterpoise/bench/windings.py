"""Motor windings: resistance at 20 degrees, balance of the phases, and how warm a winding got."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from counterpoise.bench.cautions import DISCHARGE, ROTOR, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, magnitude
from counterpoise.bench.readings import (
    CELSIUS,
    METER_PERCENT,
    OHM,
    all_possible,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# Minus the temperature at which a straight line for copper meets zero: IEEE 112; IEC 60034-1 rounds
# to 235.
COPPER_ZERO_C = 234.5


@dataclass(frozen=True, slots=True)
class PhaseReadings:
    """Resistances (ohm) of windings that should be alike, at one temperature.

    ``leads_ohm``: what the meter shows with its tips held together. ``meter_percent`` and
    ``digit_ohm``: the meter's stated error, taken as an sd in each reading. ``expected_ohm``: at 20
    degrees, from the data sheet.
    """

    ohm: tuple[float, ...]
    temperature_c: float = 20.0
    # how far a motor may be off the room it stands in (estimate)
    temperature_sd_c: float = 3.0
    leads_ohm: float = 0.0
    meter_percent: float = 0.5
    digit_ohm: float = 0.05
    expected_ohm: float | None = None
    # how far a sound motor may be off its data sheet (estimate)
    expected_percent: float = 7.0


@dataclass(frozen=True, kw_only=True)
class Windings(Result):
    """Phases in ohm at 20 degrees. ``unbalance``: length of the deviations in per cent of the mean.

    It equals the usual "largest deviation from the mean" when one of three windings is off, and
    unlike that keeps an exact interval. ``odd_one``: by how much one winding is off the others, if
    only one is.
    """

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "unbalance": Scale(
            (2.0, 5.0),
            ("balanced", "uneven", "a winding is off"),
            "from memory: motor shops accept 2 to 5 %",
        ),
    }

    # None for a single winding, or where one is open
    unbalance: Quantity | None
    odd_one: Quantity | None
    # None where all are open
    mean_20c: Quantity | None
    # per cent off the data sheet, where there is one
    off_expected: Quantity | None
    phases_20c: tuple[Quantity, ...]
    # counted from one
    open_phases: tuple[int, ...]


def at_20c(ohm: float, temperature_c: float) -> float:
    """Resistance of copper in ohm corrected to 20 degrees."""
    return ohm * (COPPER_ZERO_C + 20) / (COPPER_ZERO_C + temperature_c)


def winding_temperature_c(cold_ohm: float, cold_c: float, hot_ohm: float) -> float:
    """Mean temperature in °C of a copper winding from its resistance cold and hot.

    Raises ReadingError for a winding without resistance.
    """
    possible(cold_c, CELSIUS, "cold_c")
    for name, value in (("cold_ohm", cold_ohm), ("hot_ohm", hot_ohm)):
        if not possible(value, OHM, name) > 0:
            raise ReadingError(
                "a winding without resistance",
                field=name,
                remedy="read it again; a dead short is a fault of its own",
            )
    return hot_ohm / cold_ohm * (COPPER_ZERO_C + cold_c) - COPPER_ZERO_C


def windings(readings: PhaseReadings) -> Windings:
    """Correct to 20 degrees and compare the phases in ohm; infinity is an open winding.

    Raises ReadingError for readings that cannot be, or that lie below the leads' own.
    """
    possible(readings.temperature_c, CELSIUS, "temperature_c")
    possible(readings.meter_percent, METER_PERCENT, "meter_percent")
    possible_sd(readings.digit_ohm, OHM, "digit_ohm")
    # people count windings from one
    opened = tuple(k + 1 for k, ohm in enumerate(readings.ohm) if ohm == math.inf)
    closed = (
        all_possible((ohm for ohm in readings.ohm if ohm != math.inf), OHM, "ohm")
        if len(opened) < len(readings.ohm)
        else ()
    )
    if not readings.ohm:
        raise ReadingError(
            "no winding was measured", field="ohm", remedy="measure each pair of motor pins"
        )
    # what the leads add is in every reading alike
    net = np.array(closed) - possible(readings.leads_ohm, OHM, "leads_ohm")
    if (net < 0).any():
        raise ReadingError(
            "a winding below the leads' own resistance",
            field="leads_ohm",
            remedy="hold the tips together and read the leads again",
        )
    sd = np.hypot(net * readings.meter_percent / 100, readings.digit_ohm)
    factor = at_20c(1.0, readings.temperature_c)
    # all phases are as warm as each other: this doubt is one, not one a phase
    warm = readings.temperature_sd_c / (COPPER_ZERO_C + readings.temperature_c)
    phases = tuple(
        Quantity.normal(float(ohm), math.hypot(float(error), float(ohm) * warm), "ohm")
        for ohm, error in zip(net * factor, sd * factor, strict=True)
    )
    mean = _mean(net * factor, sd * factor, warm) if net.size else None
    # an open winding says it all; the others beside it are no motor
    unbalance = _unbalance(net, sd) if net.size >= 2 and not opened else None
    off = _off_expected(mean, readings)
    return Windings(
        unbalance=unbalance,
        odd_one=unbalance.scaled(net.size / (net.size - 1), "%") if unbalance else None,
        mean_20c=mean,
        off_expected=off,
        phases_20c=phases,
        open_phases=opened,
        sentence=_sentence(mean, unbalance, off, opened),
        cautions=(UNPLUGGED, DISCHARGE, ROTOR),
    )


def _mean(ohm: np.ndarray, sd: np.ndarray, warm: float) -> Quantity:
    value = float(ohm.mean())
    return Quantity.normal(
        value, math.hypot(float(np.sqrt((sd**2).sum())) / ohm.size, value * warm), "ohm"
    )


def _unbalance(net: np.ndarray, sd: np.ndarray) -> Quantity:
    """Length of the deviations in per cent; temperature and leads cancel, being common to all."""
    mean = float(net.mean())
    # nothing to compare, and a division by nothing
    if mean <= 0:
        raise ReadingError(
            "all windings read nothing",
            field="ohm",
            remedy="the meter's range is too coarse, or all are shorted",
        )
    # so that one phase off by d of three reads d, as the usual figure does
    scale = math.sqrt((net.size - 1) / net.size) * 100 / mean
    length = float(np.linalg.norm(net - mean))
    # One phase off by d gives deviations of length d sqrt((n-1)/n), of which the largest single one
    # is d (n-1)/n.
    return magnitude(length * scale, float(np.sqrt((sd**2).mean())) * scale, "%", net.size - 1)


def _off_expected(mean: Quantity | None, readings: PhaseReadings) -> Quantity | None:
    if mean is None or readings.expected_ohm is None:
        return None
    if not readings.expected_ohm > 0:
        raise ReadingError(
            "an expected resistance of nothing",
            field="expected_ohm",
            remedy="give ohm at 20 degrees from the data sheet",
        )
    # both the reading and the data sheet are doubted
    share = mean.value / readings.expected_ohm
    sd = 100 * math.hypot(mean.sd / readings.expected_ohm, share * readings.expected_percent / 100)
    return Quantity.normal(100 * (share - 1), sd, "%")


def _sentence(
    mean: Quantity | None, unbalance: Quantity | None, off: Quantity | None, opened: tuple[int, ...]
) -> str:
    if opened:
        which = " and ".join(str(phase) for phase in opened)
        return f"Winding {which} is open: look at plug and crimp first, then the motor is done for."
    parts = [f"At 20 degrees the windings have {mean} on average"]
    if unbalance is not None:
        parts.append(f"they differ by {unbalance}: {Windings.SCALES['unbalance'].word(unbalance)}")
    if off is not None:
        parts.append(f"{off} off the data sheet")
    return "; ".join(parts) + ". A short to earth does not show here: measure the insulation too."
