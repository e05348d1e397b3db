"""Signatures as a table on disk: what training needs of rehearsed machines, wherever they ran."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from counterpoise.errors import InputError
from counterpoise.spin.training.examples import Example

# By number of the machine: its runs, of each what every phone heard.
Rehearsed = dict[int, list[list[Example]]]


def save_rows(path: Path, machines: Rehearsed, made_of: str) -> None:
    """Write signatures in single precision; ``made_of`` names the physics and the reader."""
    flat = [
        (number, run, faults, signature)
        for number, runs in machines.items()
        for run, heard in enumerate(runs)
        for faults, signature in heard
    ]
    names = list(flat[0][3]) if flat else []
    beside = path.with_suffix(".part.npz")
    np.savez_compressed(
        beside,
        allow_pickle=False,
        made_of=np.array(made_of),
        names=np.array(names),
        values=np.array([[s[name] for name in names] for *_, s in flat], dtype=np.float32),
        number=np.array([number for number, *_ in flat], dtype=np.int32),
        run=np.array([run for _, run, *_ in flat], dtype=np.int16),
        faults=np.array(["+".join(faults) for *_, faults, _ in flat], dtype=np.str_),
    )
    # Whole or not at all: a run broken off leaves no half file to go on from.
    beside.replace(path)


def load_rows(paths: Sequence[Path]) -> tuple[Rehearsed, str]:
    """Machines of all files, and what they were made of. Raises InputError where files differ."""
    machines: Rehearsed = {}
    made: set[str] = set()
    for path in paths:
        with np.load(path) as stored:
            made.add(str(stored["made_of"]))
            names = [str(name) for name in stored["names"]]
            values = stored["values"].astype(np.float64)
            for number, run, wrong, row in zip(
                stored["number"].tolist(),
                stored["run"].tolist(),
                stored["faults"],
                values,
                strict=True,
            ):
                runs = machines.setdefault(number, [])
                if run == len(runs):
                    runs.append([])
                faults = tuple(fault for fault in str(wrong).split("+") if fault)
                runs[run].append((faults, dict(zip(names, row.tolist(), strict=True))))
    if len(made) > 1:
        raise InputError(
            "the files of rows were made of different physics or by different readers",
            field="rows",
            remedy="Rehearse them all anew, or give those of one kind only",
        )
    return machines, made.pop() if made else ""
