"""Signatures as a table on disk: what training needs of rehearsed machines, wherever they ran."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from counterpoise.errors import InputError
from counterpoise.spin.features.orders_by_speed import MARK
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import Example

# Of a level by band of speed: the least, the step, and what stands for "not seen".
LEAST_LEVEL, LEVEL_STEP, UNSEEN = -2.6, 0.02, 255
# By number of the machine: its runs, of each what every phone heard.
Rehearsed = dict[int, list[list[Example]]]


@dataclass(frozen=True)
class Rows:
    """Recordings as a table: ``values`` (n, names) with NaN; ``number``, ``run``, ``phone`` (n,).

    ``number`` names the machine, ``run`` its runs in order (0 is the first sound one), ``phone``
    which of a run's recordings it is.
    """

    names: tuple[str, ...]
    values: NDArray[np.float32]
    number: NDArray[np.int64]
    run: NDArray[np.int64]
    phone: NDArray[np.int64]
    faults: tuple[tuple[str, ...], ...]

    def of(self, chosen: NDArray[np.bool_]) -> "Rows":
        """Return the recordings that are ``chosen`` (n,)."""
        # By place: faults are no array.
        picked = np.flatnonzero(chosen)
        return Rows(
            self.names,
            self.values[picked],
            self.number[picked],
            self.run[picked],
            self.phone[picked],
            tuple(self.faults[i] for i in picked.tolist()),
        )

    def machines(self, numbers: Collection[int]) -> "Rows":
        """Return the recordings of these machines."""
        return self.of(np.isin(self.number, np.array(sorted(numbers), dtype=np.int64)))


def table_of(machines: Rehearsed) -> Rows:
    """Lay rehearsed machines out as a table."""
    flat = [
        (number, run, phone, faults, signature)
        for number, runs in machines.items()
        for run, heard in enumerate(runs)
        for phone, (faults, signature) in enumerate(heard)
    ]
    names = tuple(flat[0][4]) if flat else ()
    values = np.array([[s[name] for name in names] for *_, s in flat], dtype=np.float32)
    counts = np.array([row[:3] for row in flat], dtype=np.int64).reshape(-1, 3)
    number, run, phone = counts.T
    faults = tuple(row[3] for row in flat)
    return Rows(names, values.reshape(len(flat), len(names)), number, run, phone, faults)


def baseline_of(rows: Rows) -> NDArray[np.int64]:
    """Row (n,) of the sound recording that each stands against, of the same phone or the other.

    -1 for the first sound run itself, and where a machine has none.
    """
    first: dict[int, list[int]] = {}
    for i in np.flatnonzero(rows.run == 0).tolist():
        first.setdefault(int(rows.number[i]), []).append(i)
    out = np.full(len(rows.number), -1, dtype=np.int64)
    for i in np.flatnonzero(rows.run > 0).tolist():
        number, phone = int(rows.number[i]), int(rows.phone[i])
        # As at a customer: the phone may have changed since the baseline.
        if base := first.get(number):
            out[i] = base[(phone + number) % len(base)]
    return out


def coded(levels: Floats) -> NDArray[np.uint8]:
    """Levels in decades as bytes, as finely as any of them can be trusted."""
    # A fiftieth of a decade is 5 %: no panel repeats itself better.
    steps = np.round((levels - LEAST_LEVEL) / LEVEL_STEP)
    seen = np.isfinite(levels)
    return np.where(seen, np.clip(np.where(seen, steps, 0), 0, UNSEEN - 1), UNSEEN).astype(np.uint8)


def decoded(codes: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Undo ``coded``."""
    levels = LEAST_LEVEL + LEVEL_STEP * codes.astype(np.float32)
    return np.where(codes == UNSEEN, np.float32(np.nan), levels)


def save_rows(path: Path, machines: Rehearsed, made_of: str) -> None:
    """Write signatures; ``made_of`` names the physics and the reader.

    In half precision, and what is kept by bands of speed in bytes of a fiftieth of a decade.
    """
    flat = [
        (number, run, faults, signature)
        for number, runs in machines.items()
        for run, heard in enumerate(runs)
        for faults, signature in heard
    ]
    names = list(flat[0][3]) if flat else []
    by_speed = np.array([MARK in name for name in names], dtype=np.bool_)
    values = np.array([[s[name] for name in names] for *_, s in flat]).reshape(-1, len(names))
    beside = path.with_suffix(".part.npz")
    np.savez_compressed(
        beside,
        allow_pickle=False,
        made_of=np.array(made_of),
        names=np.array(names),
        values=values[:, ~by_speed].astype(np.float16),
        by_speed=coded(values[:, by_speed]),
        number=np.array([number for number, *_ in flat], dtype=np.int32),
        run=np.array([run for _, run, *_ in flat], dtype=np.int16),
        faults=np.array(["+".join(faults) for *_, faults, _ in flat], dtype=np.str_),
    )
    # Whole or not at all: a run broken off leaves no half file to go on from.
    beside.replace(path)


def load_rows(paths: Sequence[Path]) -> tuple[Rows, str]:
    """Recordings of all files, and what they were made of. Raises InputError where files differ."""
    parts: list[Rows] = []
    made: set[str] = set()
    for path in paths:
        with np.load(path) as stored:
            made.add(str(stored["made_of"]))
            names = tuple(str(name) for name in stored["names"])
            by_speed = np.array([MARK in name for name in names], dtype=np.bool_)
            values = np.empty((len(stored["number"]), len(names)), dtype=np.float32)
            values[:, ~by_speed] = stored["values"]
            values[:, by_speed] = decoded(stored["by_speed"])
            number, run = (stored[name].astype(np.int64) for name in ("number", "run"))
            wrong = (str(each).split("+") for each in stored["faults"])
            faults = tuple(tuple(fault for fault in each if fault) for each in wrong)
            parts.append(Rows(names, values, number, run, _places(number, run), faults))
    if len(made) > 1:
        raise InputError(
            "the files of rows were made of different physics or by different readers",
            field="rows",
            remedy="Rehearse them all anew, or give those of one kind only",
        )
    return _joined(parts), made.pop() if made else ""


def _places(number: NDArray[np.int64], run: NDArray[np.int64]) -> NDArray[np.int64]:
    """Place (n,) of each recording among those of its run, which stand together."""
    # A new machine or a new run begins to count anew.
    start = np.concatenate([[True], (np.diff(number) != 0) | (np.diff(run) != 0)])
    at = np.arange(len(number))
    return np.asarray(at - np.maximum.accumulate(np.where(start, at, 0)), dtype=np.int64)


def _joined(parts: list[Rows]) -> Rows:
    if not parts:
        return table_of({})
    values = np.concatenate([part.values for part in parts])
    number, run, phone = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("number", "run", "phone")
    )
    faults = tuple(fault for part in parts for fault in part.faults)
    return Rows(parts[0].names, values, number, run, phone, faults)
