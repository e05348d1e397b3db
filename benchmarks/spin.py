"""Reading a spin: against real time, and against a plain scipy spectrogram of the same file."""

import gzip
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy import signal

from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import read_spin
from counterpoise.spin.summary import reading_data

RATE_HZ, SECONDS = 200.0, 120.0
POINTS = [
    (0, 0),
    (8, 50),
    (16, 95),
    (24, 95),
    (36, 410),
    (42, 410),
    (54, 750),
    (60, 750),
    (74, 1200),
    (100, 1200),
    (116, 0),
    (120, 0),
]


def spin_file(folder: Path) -> Path:
    """Write 120 s at 200 Hz of an invented spin as CSV.gz."""
    rng = np.random.default_rng(1)
    t = np.arange(int(SECONDS * RATE_HZ)) / RATE_HZ
    at, rpm = np.array(POINTS, dtype=float).T
    f = np.interp(t, at, rpm) / 60
    angle = 2 * np.pi * np.cumsum(f) / RATE_HZ
    size = 0.02 * f**1.5
    acc = rng.normal(0, 0.02, (len(t), 3)) + np.array([0, 0, 9.81])
    for axis, (one, three) in enumerate(((1.0, 0.2), (0.6, 0.1), (0.4, 0.15))):
        acc[:, axis] += size * (one * np.cos(angle + axis) + three * np.cos(3 * angle))
    rows = "\n".join(",".join(f"{x:.4f}" for x in (a, *b)) for a, b in zip(t, acc, strict=True))
    path = folder / "spin.csv.gz"
    path.write_bytes(gzip.compress(("t_s,ax_ms2,ay_ms2,az_ms2\n" + rows).encode()))
    return path


def ours(path: Path) -> None:
    """File to finished data: speed, orders, resonances, knocks, nine groups."""
    reading = read_spin(read_recording(path))
    reading_data(reading, judge(reading))


def plain(path: Path) -> None:
    """File to three spectrograms with numpy and scipy, nothing more."""
    with gzip.open(path, "rt") as stream:
        table = np.loadtxt(stream, delimiter=",", skiprows=1)
    for axis in (1, 2, 3):
        signal.spectrogram(table[:, axis], RATE_HZ, nperseg=400, noverlap=350, nfft=1024)


def best(run: Callable[[Path], None], path: Path, times: int = 7) -> float:
    """Least CPU time of several runs, s: one core, whatever else the machine is doing."""
    took = []
    for _ in range(times):
        start = time.process_time()
        run(path)
        took.append(time.process_time() - start)
    return min(took)


def rows() -> list[dict[str, object]]:
    """One row against real time, one against the spectrogram."""
    with tempfile.TemporaryDirectory() as folder:
        path = spin_file(Path(folder))
        mine, theirs = best(ours, path), best(plain, path)
    work = "120 s at 200 Hz, CSV.gz to speed, orders and verdict"
    return [
        {
            "name": "spin, times real time",
            "ours": mine,
            "peer": SECONDS,
            "peer_name": "real time",
            "ratio": SECONDS / mine,
            "unit": "s of CPU",
            "work": work,
        },
        {
            "name": "spin, against a plain spectrogram",
            "ours": mine,
            "peer": theirs,
            "peer_name": "numpy.loadtxt + scipy.signal.spectrogram",
            "ratio": theirs / mine,
            "unit": "s of CPU",
            "work": work,
        },
    ]


if __name__ == "__main__":
    for row in rows():
        print(row)
