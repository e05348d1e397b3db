"""Formulas of the textbook that the model must agree with: judges, used by no program.

Sources: Rao, *Mechanical Vibrations* (rotating unbalance, transmissibility, Coulomb friction,
logarithmic decrement); ISO 21940-11 (balance grades); the rigid machine is derived here.
"""

from math import log, pi, sqrt
from typing import NamedTuple

from counterpoise.errors import InputError

STANDARD_GRAVITY = 9.80665


def positive(**values: float) -> None:
    """Raise InputError for the first value that is not above zero."""
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(f"{name} is {value:g}", field=name, remedy="it must be above zero")


def rotating_unbalance(zeta: float, r: float) -> float:
    """M X / (m e): amplitude of a sprung machine with a rotating unbalance at frequency ratio
    ``r`` (Rao).
    """
    return r * r / sqrt((1.0 - r * r) ** 2 + (2.0 * zeta * r) ** 2)


def transmissibility(zeta: float, r: float) -> float:
    """Force to the floor over force on the machine (Rao)."""
    return sqrt((1.0 + (2.0 * zeta * r) ** 2) / ((1.0 - r * r) ** 2 + (2.0 * zeta * r) ** 2))


class Unbalanced(NamedTuple):
    """Amplitude in m and force to the floor in N."""

    amplitude_m: float
    floor_force_n: float


def washer(
    mass_kg: float, unbalance_kg_m: float, stiffness_n_m: float, zeta: float, rpm: float
) -> Unbalanced:
    """Vibrate a machine of one degree of freedom at constant speed; ``mass_kg`` is all that
    moves.
    """
    positive(mass_kg=mass_kg, stiffness_n_m=stiffness_n_m)
    omega = rpm * pi / 30.0
    r = omega / sqrt(stiffness_n_m / mass_kg)
    return Unbalanced(
        unbalance_kg_m / mass_kg * rotating_unbalance(zeta, r),
        unbalance_kg_m * omega**2 * transmissibility(zeta, r),
    )


def coulomb_force(
    mass_kg: float, stiffness_n_m: float, friction_n: float, frequency_hz: float, amplitude_m: float
) -> float:
    """Force amplitude in N that drives an oscillator with dry friction to a given amplitude (Rao.

    Equivalent damping).
    """
    positive(mass_kg=mass_kg, stiffness_n_m=stiffness_n_m, frequency_hz=frequency_hz)
    elastic = amplitude_m * (stiffness_n_m - mass_kg * (2 * pi * frequency_hz) ** 2)
    return sqrt(elastic**2 + (4.0 * friction_n / pi) ** 2)


class Decay(NamedTuple):
    """Damping ratio, stiffness and damping coefficient."""

    zeta: float
    stiffness_n_m: float
    damping_n_s_m: float


def log_decrement(mass_kg: float, damped_period_s: float, ratio: float, cycles: float) -> Decay:
    """Damping from the ratio of two amplitudes that lie ``cycles`` apart (Rao)."""
    positive(mass_kg=mass_kg, damped_period_s=damped_period_s, cycles=cycles)
    if ratio <= 1.0:
        raise InputError(
            f"an amplitude ratio of {ratio:g}",
            field="ratio",
            remedy="give the earlier over the later amplitude, above 1",
        )
    delta = log(ratio) / cycles
    zeta = delta / sqrt(4 * pi * pi + delta * delta)
    natural = 2 * pi / damped_period_s / sqrt(1.0 - zeta * zeta)
    return Decay(zeta, mass_kg * natural**2, 2.0 * zeta * natural * mass_kg)


def coulomb_friction(
    period_s: float, loss_m: float, cycles: float, gravity_m_s2: float = STANDARD_GRAVITY
) -> float:
    """Friction coefficient of a block on a spring that loses ``loss_m`` of amplitude in some
    cycles (Rao).
    """
    positive(period_s=period_s, cycles=cycles)
    return loss_m / cycles * (2 * pi / period_s) ** 2 / (4.0 * gravity_m_s2)


class Verge(NamedTuple):
    """Speeds at which a rigid machine starts to slip and to lift."""

    slip_rpm: float
    lift_rpm: float


def verge_of_walking(mass_kg: float, unbalance_kg_m: float, friction: float) -> Verge:
    """Speeds at which a machine without suspension (transit bolts in) slips, then lifts, as a
    block (derived).
    """
    positive(mass_kg=mass_kg, unbalance_kg_m=unbalance_kg_m, friction=friction)
    weight = mass_kg * STANDARD_GRAVITY
    slip = sqrt(friction * weight / (unbalance_kg_m * sqrt(1.0 + friction**2)))
    return Verge(slip * 30.0 / pi, sqrt(weight / unbalance_kg_m) * 30.0 / pi)


def half_power_damping(zeta: float) -> float:
    """Read the damping off the half-power width of an unbalance run-up: what comes out for a true
    ``zeta``.

    Response M X / (m e), width over twice the natural speed. It reads too high, the more the
    heavier the damping.
    """
    if not 0.0 < zeta < 0.35:
        raise InputError(
            f"a damping ratio of {zeta:g}",
            field="zeta",
            remedy="0 to 0.35 has two half-power points",
        )
    # with s = 1/r^2 the response is 1/sqrt((s-1)^2 + 4 zeta^2 s): a quadratic in s at a given level
    lowest = 4.0 * zeta**2 * (1.0 - zeta**2)
    root = sqrt(lowest)
    middle = 1.0 - 2.0 * zeta**2
    return (1.0 / sqrt(middle - root) - 1.0 / sqrt(middle + root)) / 2.0


def permissible_unbalance_kg_m(grade_mm_s: float, mass_kg: float, rpm: float) -> float:
    """Residual unbalance of a rotor of balance grade G = e_per omega (ISO 21940-11)."""
    positive(grade_mm_s=grade_mm_s, mass_kg=mass_kg, rpm=rpm)
    return mass_kg * grade_mm_s * 1e-3 / (rpm * pi / 30.0)


ZONES_MM_S = (0.71, 1.8, 4.5)


def vibration_zone(velocity_mm_s: float) -> str:
    """Zone A to D of a vibration velocity, small machines (ISO 10816-1). Not made for appliances:
    a yardstick only.
    """
    return "ABCD"[sum(velocity_mm_s > limit for limit in ZONES_MM_S)]


def hanging_tub_hz(mass_kg: float, rods_n_m: float, length_m: float) -> tuple[float, float]:
    """Upright and pendulum frequency of a tub on hanging rods (derived)."""
    positive(mass_kg=mass_kg, rods_n_m=rods_n_m, length_m=length_m)
    return sqrt(rods_n_m / mass_kg) / (2 * pi), sqrt(STANDARD_GRAVITY / length_m) / (2 * pi)


def joint_frequency_hz(first_hz: float, second_hz: float) -> float:
    """Frequency of an oscillator that changes stiffness each half cycle: 2 w1 w2 / (w1 + w2)
    (derived).
    """
    positive(first_hz=first_hz, second_hz=second_hz)
    return 2.0 * first_hz * second_hz / (first_hz + second_hz)
