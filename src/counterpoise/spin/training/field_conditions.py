"""What lies between a rigid cabinet and a real recording: the conditions of the field, painted on.

Each range names where it comes from: `measured` is a fact of public recordings of real machines
(one sound front loader at 92 samples a second, a few others), widened to both sides; all others are
estimates from memory. A panel belongs to a machine and a place on it, so a baseline and a later
test may share it; bumps, cuts and clocks are drawn for every recording.
"""

from dataclasses import dataclass

import numpy as np
from scipy.fft import next_fast_len

from counterpoise.dynamics import SpinProfile, SpinResult
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Recording

# Nominal samples a second; 60 is what a browser gives, 92 was measured, the rest are loggers.
RATES_HZ = (50.0, 60.0, 60.0, 92.0, 100.0, 100.0, 125.0, 200.0, 400.0)
# Mains of either half of the world; a drain pump hums at once and twice that (measured: 50).
MAINS_HZ = (50.0, 60.0)
# Share of recordings that begin in mid-run, and that end before the coast is over (measured:
# both happen; how often is an estimate).
BEGIN_LATE = 0.3
END_EARLY = 0.25
# Shorter than this there is nothing to rehearse.
LEAST_LEFT_S = 24.0
# A scale wrong by a sixth was measured; most sensors keep to a few per cent.
WRONG_SCALE = 0.1


@dataclass(frozen=True)
class Panel:
    """One place on one machine: modes as (Hz, damping ratio, take (3,), give (3,)), motor, bend.

    ``motor_order`` in turns of the drum, ``motor_ms2`` at 1,000 rpm; ``bend`` in 1/(m/s2).
    """

    modes: tuple[tuple[float, float, Floats, Floats], ...]
    motor_order: float
    motor_ms2: float
    bend: float
    rate_hz: float
    grid_s: float
    has_gravity: bool


def random_panel(rng: np.random.Generator) -> Panel:
    """Draw one to three modes of 16 to 45 Hz, a motor order, a bend and the sensor that lies there.

    Measured: one mode just above 20 Hz made the first order 12 times larger between 950 and
    1,190 rpm.
    """

    def mode() -> tuple[float, float, Floats, Floats]:
        # Sheet steel with a little rubber: 1.5 to 7 % of critical (estimate).
        zeta = float(np.exp(rng.uniform(np.log(0.015), np.log(0.07))))
        size = float(np.exp(rng.uniform(np.log(0.1), np.log(1.0))))
        take, give = rng.normal(0, 1, (2, 3))
        return (
            float(rng.uniform(16, 45)),
            zeta,
            size * take / np.linalg.norm(take),
            give / np.linalg.norm(give),
        )

    rate = float(rng.choice(RATES_HZ)) * float(rng.uniform(0.985, 1.015))
    # Stamps on a grid of 5 ms were measured; 1 and 10 ms are common in loggers.
    grid = float(rng.choice([0.0, 0.0, 0.001, 0.005, 0.01]))
    return Panel(
        tuple(mode() for _ in range(int(rng.integers(1, 4)))),
        # Belt drives turn the motor 8 to 14 times a turn; whole numbers are of direct drives.
        float(rng.choice([rng.uniform(8, 14), 6.0, 12.0, 24.0])),
        float(np.exp(rng.uniform(np.log(0.003), np.log(0.12)))),
        float(np.exp(rng.uniform(np.log(0.002), np.log(0.05)))),
        rate,
        grid if grid * rate < 0.7 else 0.0,
        bool(rng.random() > 0.15),
    )


def field_profile(rng: np.random.Generator, top_rpm: float) -> SpinProfile:
    """Profile in s and rpm as real programmes have them: washing before, slow climbs, long holds.

    Measured: last climb 9 rpm a second, hold 28 s, coast 24 rpm a second; the upper ends are those
    of the usual profile.
    """
    points = [(0.0, 0.0), (float(rng.uniform(0.5, 5)), 0.0)]

    def to(seconds: float, rpm: float) -> None:
        points.append((points[-1][0] + float(seconds), float(rpm)))

    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    if rng.random() < 0.25:
        # A minute of washing: turn, stop, turn the other way (common practice).
        for _ in range(int(rng.integers(3, 6))):
            to(1.5, tumble)
            to(rng.uniform(8, 13), tumble)
            to(1.5, 0.0)
            to(rng.uniform(2, 4), 0.0)
    for _ in range(1 + int(rng.random() < 0.25)):
        to(2.0, tumble)
        to(rng.uniform(3, 9), tumble)
        to(3.0, even)
        to(rng.uniform(5, 11), even * rng.uniform(0.98, 1.02))
    holds = [rng.uniform(350, 480), rng.uniform(560, 820)]
    for rpm in [each for each in holds if rng.random() < 0.7 and each < 0.9 * top_rpm]:
        to((rpm - points[-1][1]) / rng.uniform(14, 48), rpm)
        to(rng.uniform(4, 12), rpm * rng.uniform(0.997, 1.003))
    climb = np.exp(rng.uniform(np.log(9), np.log(48)))
    to((top_rpm - points[-1][1]) / climb, top_rpm)
    to(rng.uniform(8, 32), top_rpm * rng.uniform(0.997, 1.003))
    to(top_rpm / np.exp(rng.uniform(np.log(24), np.log(150))), 0.0)
    to(rng.uniform(1.5, 4), 0.0)
    return SpinProfile(tuple(points))


def _through_modes(acc_ms2: Floats, rate_hz: float, panel: Panel) -> Floats:
    """Motion (n, 3) of the panel on a cabinet that moves by ``acc_ms2``, both without gravity."""
    # Padded with a second of nothing, so that the end does not ring into the beginning.
    count = next_fast_len(len(acc_ms2) + int(rate_hz), real=True)
    spectrum = np.fft.rfft(acc_ms2, count, axis=0)
    f = np.fft.rfftfreq(count, 1 / rate_hz)
    out = spectrum.copy()
    for f0, zeta, take, give in panel.modes:
        # A mass on a spring on a shaken base: its motion against the base.
        answer = f**2 / (f0**2 - f**2 + 2j * zeta * f0 * f)
        out += (answer * (spectrum @ give))[:, None] * take
    return np.asarray(np.fft.irfft(out, count, axis=0)[: len(acc_ms2)], dtype=np.float64)


def _steady_tones(t_s: Floats, running: Floats, rng: np.random.Generator) -> Floats:
    """Pump, mains and hum at times (n,), (n, 3) in m/s2; ``running`` (n,): 1 while it is on.

    Measured: a pump's 50 Hz and its image, and a line of 16.8 Hz stronger than the drum's own over
    much of the climb.
    """
    out = np.zeros((len(t_s), 3))
    mains = float(rng.choice(MAINS_HZ)) * float(rng.uniform(0.997, 1.003))
    tones = []
    if rng.random() < 0.7:
        level = float(np.exp(rng.uniform(np.log(0.005), np.log(0.2))))
        # A pump runs all through, or drains now and then.
        on = running if rng.random() < 0.5 else running * _bursts(t_s, rng)
        tones += [(mains, level, on), (2 * mains, level * rng.uniform(0.1, 1.0), on)]
    for _ in range(int(rng.integers(0, 3))):
        level = float(np.exp(rng.uniform(np.log(0.004), np.log(0.12))))
        on = running if rng.random() < 0.5 else np.ones(len(t_s))
        tones.append((float(rng.uniform(7, 60)), level, on))
    for hz, level, on in tones:
        way = rng.normal(0, 1, 3)
        # A tenth of a radian of slow wander: no pump is a crystal.
        wander = 0.3 * np.sin(2 * np.pi * t_s / rng.uniform(5, 30) + rng.uniform(0, 6))
        wave = on * np.cos(2 * np.pi * hz * t_s + wander + rng.uniform(0, 6))
        out += level * wave[:, None] * way / np.linalg.norm(way)
    return out


def _bursts(t_s: Floats, rng: np.random.Generator) -> Floats:
    """1 where a pump runs that drains for 4 to 30 s and pauses for 3 to 20 s, else 0; (n,)."""
    on, at = np.zeros(len(t_s)), t_s[0] - float(rng.uniform(0, 15))
    while at < t_s[-1]:
        end = at + float(rng.uniform(4, 30))
        on[(t_s >= at) & (t_s < end)] = 1.0
        at = end + float(rng.uniform(3, 20))
    return on


def _noise(rpm: Floats, rng: np.random.Generator) -> Floats:
    """White noise (n, 3) in m/s2 at 400 Hz that grows with the speed (n,) in rpm.

    Measured: 0.005 at rest, 0.05 to 0.28 washing and draining, most of it broad.
    """
    at_1000 = float(np.exp(rng.uniform(np.log(0.004), np.log(0.15))))
    grown = at_1000 * (np.abs(rpm) / 1000) ** rng.uniform(1, 2.5)
    # Water runs, laundry rubs: a little whenever the drum turns at all.
    wet = float(np.exp(rng.uniform(np.log(0.001), np.log(0.04)))) * (np.abs(rpm) > 1)
    return np.asarray((grown + wet)[:, None] * rng.normal(0, 1, (len(rpm), 3)))


def _cut(t_s: Floats, rpm: Floats, top_rpm: float, rng: np.random.Generator) -> tuple[float, float]:
    """First and last second kept: all, or begun in mid-run, or ended before the drum stood."""
    begin, end = float(t_s[0]), float(t_s[-1])
    fast = np.flatnonzero(rpm > 0.97 * top_rpm)
    if len(fast):
        first, last = float(t_s[fast[0]]), float(t_s[fast[-1]])
        if rng.random() < BEGIN_LATE:
            # From well down the climb to well into the hold.
            begin = float(rng.uniform(max(begin, first - 25), first + 0.5 * (last - first)))
        if rng.random() < END_EARLY:
            end = float(rng.uniform(last - 0.2 * (last - first), min(end, last + 8)))
    if end - begin < LEAST_LEFT_S:
        begin = max(float(t_s[0]), end - LEAST_LEFT_S)
    return begin, end


def field_recording(
    spin: SpinResult, panel: Panel, rate_hz: float, rng: np.random.Generator
) -> tuple[Recording, Floats]:
    """A simulated spin, sampled at ``rate_hz``, as a sensor in the field records it.

    With the true speed (2, n) at 10 Hz: s of the recording, rpm.
    """
    t, rpm = spin.t_s, spin.drum_rpm
    rest = np.median(spin.panel_m_s2[: int(rate_hz / 2)], axis=0)
    rest *= GRAVITY_MS2 / np.linalg.norm(rest)
    noise = _noise(rpm, rng)
    moving = _through_modes(spin.panel_m_s2 - rest + 0.7 * noise, rate_hz, panel) + 0.5 * noise
    # A bent panel is stiffer one way: a little of the square, up to that of a g.
    moving += panel.bend * np.clip(moving, -GRAVITY_MS2, GRAVITY_MS2) ** 2
    begin, end = _cut(t, rpm, float(rpm.max()), rng)
    rate = panel.rate_hz
    if rng.random() < 0.5 and rate < rate_hz:
        moving = low_passed(moving, rate_hz, 0.45 * rate)
    at = np.arange(begin, end, 1 / rate)
    at = np.sort(at + rng.uniform(0.005, 0.08) / rate * rng.standard_normal(len(at)))
    at = np.unique(at[(at > begin) & (at < end)])
    at = at[rng.random(len(at)) > rng.choice([0.0, 0.0, 0.002])]
    readings = np.column_stack([np.interp(at, t, axis) for axis in moving.T])
    readings += _steady_tones(at, (np.interp(at, t, rpm) > 1).astype(float), rng)
    angle, speed = np.interp(at, t, spin.drum_rad), np.interp(at, t, np.abs(rpm)) / 1000
    way = rng.normal(0, 1, 3)
    tone = panel.motor_ms2 * speed**1.5 * np.cos(panel.motor_order * angle)
    readings += tone[:, None] * way / np.linalg.norm(way)
    if rng.random() < 0.25:
        readings += _bump(at, rng)
    if panel.has_gravity:
        readings += rest
    stamps, rounded = _as_sensor(at, readings, panel, rng)
    coarse = np.arange(begin, end, 0.1)
    truth = np.stack([coarse - at[0], np.interp(coarse, t, rpm)])
    return recording_from_samples(stamps - stamps[0], rounded), truth


def _bump(t_s: Floats, rng: np.random.Generator) -> Floats:
    """A knock by a hand or a knee, (n, 3) in m/s2: 0.3 to 6 m/s2, gone in a third of a second."""
    since = t_s - float(rng.uniform(t_s[0], t_s[-1]))
    size = float(np.exp(rng.uniform(np.log(0.3), np.log(6.0))))
    wave = np.where(since > 0, np.exp(-np.maximum(since, 0) / 0.1), 0.0)
    wave = wave * np.sin(2 * np.pi * rng.uniform(5, 25) * since)
    return np.asarray(size * wave[:, None] * rng.normal(0, 0.6, 3))


def _as_sensor(
    at: Floats, readings: Floats, panel: Panel, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Stamps on the clock's grid, readings with scale, offset, noise, range and rounding."""
    # Axes differ by half a per cent, a sensor now and then by a sixth (measured).
    wrong = rng.uniform(0.84, 1.18) if rng.random() < WRONG_SCALE else rng.normal(1, 0.02)
    out = readings * wrong * rng.normal(1, 0.005, 3) + rng.normal(0, 0.05, 3)
    # 0.004 to 0.007 at rest was measured at 92 samples a second.
    out += rng.normal(0, rng.uniform(0.0005, 0.004) * np.sqrt(panel.rate_hz / 2), out.shape)
    most = float(rng.choice([2, 4, 8])) * GRAVITY_MS2
    # A browser at 60 rounds to 0.1 m/s2 to protect privacy; converters have 12 to 16 bits.
    browser = panel.rate_hz < 70 and rng.random() < 0.6
    step = 0.1 if browser else 2 * most / 2 ** rng.integers(12, 17)
    out = np.round(np.clip(out, -most, most) / step) * step
    stamps = np.round(at / panel.grid_s) * panel.grid_s if panel.grid_s else at
    rises = np.concatenate([[True], np.diff(np.maximum.accumulate(stamps)) > 0])
    return stamps[rises], out[rises]


def low_passed(acc_ms2: Floats, rate_hz: float, edge_hz: float) -> Floats:
    """Fourth order at ``edge_hz``, as the filter in a sensor of the better kind; (n, 3)."""
    # Longer by the last sample again and again, up to a length that transforms quickly.
    count = next_fast_len(len(acc_ms2), real=True)
    padded = np.pad(acc_ms2, ((0, count - len(acc_ms2)), (0, 0)), mode="edge")
    f = np.fft.rfftfreq(count, 1 / rate_hz)
    spectrum = np.fft.rfft(padded, axis=0) / np.sqrt(1 + (f / edge_hz) ** 8)[:, None]
    return np.asarray(np.fft.irfft(spectrum, count, axis=0)[: len(acc_ms2)], dtype=np.float64)
