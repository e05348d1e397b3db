"""The labelled recordings in this folder, and signals made on purpose."""

import csv
import gzip
from functools import cache
from pathlib import Path

import numpy as np

from counterpoise.spin.files.read import read_recording, recording_from_samples
from counterpoise.spin.reading import Reading, read_spin
from counterpoise.spin.recording import GRAVITY_MS2, Recording

RECORDINGS = Path(__file__).parent / "recordings"


@cache
def labels() -> dict[str, dict[str, str]]:
    """Rows of ``labels.csv`` by name of recording."""
    with (RECORDINGS / "labels.csv").open() as stream:
        return {row["file"].split(".")[0]: row for row in csv.DictReader(stream)}


def recording_file(name: str) -> Path:
    """The CSV.gz of a labelled recording such as ``r001``."""
    return RECORDINGS / f"machine_{labels()[name]['machine']}" / f"{name}.csv.gz"


@cache
def truth(name: str) -> np.ndarray:
    """Rows (n, 10) at 10 Hz: time in s, drum speed in rpm, ... (see the README there)."""
    file = recording_file(name).with_name(f"{name}_truth.csv.gz")
    with gzip.open(file, "rt") as stream:
        return np.loadtxt(stream, delimiter=",", skiprows=1)


@cache
def labelled(name: str) -> Reading:
    return read_spin(read_recording(recording_file(name)))


def speed_profile(t: np.ndarray, points: list[tuple[float, float]]) -> np.ndarray:
    at, rpm = np.array(points).T
    return np.interp(t, at, rpm) / 60


USUAL = [
    (0, 0),
    (10, 0),
    (25, 400),
    (35, 400),
    (45, 800),
    (55, 800),
    (65, 1100),
    (85, 1100),
    (100, 0),
    (105, 0),
]


def spin_signal(
    rate_hz: float = 200.0,
    points: list[tuple[float, float]] = USUAL,
    orders: dict[float, float] | None = None,
    noise: float = 0.01,
    seed: int = 1,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, acceleration (n, 3), true speed in Hz of a drum with these order amplitudes in m/s2."""
    rng = np.random.default_rng(seed)
    t = np.arange(0, points[-1][0], 1 / rate_hz)
    fine = np.arange(0, points[-1][0], 0.001)
    angle = np.interp(t, fine, 2 * np.pi * np.cumsum(speed_profile(fine, points)) * 0.001)
    f = speed_profile(t, points)
    acc = rng.normal(0, noise, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
    for order, size in (orders or {1.0: 2.0, 2.0: 0.5, 3.0: 0.2}).items():
        level = size * (f > 2.0)
        acc[:, 0] += level * np.cos(order * angle)
        acc[:, 1] += 0.6 * level * np.sin(order * angle)
        acc[:, 2] += 0.4 * level * np.cos(order * angle + 1)
    return t, acc, f


def made(t: np.ndarray, acc: np.ndarray) -> Recording:
    return recording_from_samples(t - t[0], acc)
