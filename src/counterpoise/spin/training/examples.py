"""Signatures of synthetic machines to learn from, and the folder that keeps them.

A folder holds the recordings of each machine (``N.npz``) and what was read from them
(``N-DIGEST.json``, the digest that of the reader's source): a change of the reader needs no new
simulation, one of the training no new reading. Whoever changes the synthetic recordings or the
dynamics room takes a new folder.
"""

import json
from dataclasses import replace
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path

import numpy as np

from counterpoise.errors import InputError
from counterpoise.spin.causes.groups import FAULTS_OF, GROUPS
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.reading import read_spin
from counterpoise.spin.training.synthetic_recordings import (
    PHONES_PER_SPIN,
    random_panels,
    random_place,
    random_setup,
    synthetic_spin,
)

# Runs of each machine beside its first sound one; the last of them is sound again, so that
# recordings of sound machines are as common as in a yard.
TESTS = 6
# Share of runs under the conditions of the field, on machines of any number.
FIELD_SHARE = 0.75
# One machine in four has a controller that gives up easily on its tests.
ABORTING_ONE_IN = 4
# Share of tests with two faults: a worn machine seldom has only one (estimate).
PAIRS = 0.1
GROUP_OF = {fault: i for i, group in enumerate(GROUPS) for fault in FAULTS_OF[group]}
# Modules of this room that come after the signature.
NOT_READER = {
    "alarm_bound.py",
    "fitting.py",
    "forest.py",
    "groups.py",
    "net.py",
    "posterior.py",
    "proof.py",
    "summary.py",
    "train.py",
    "verdict.py",
}
Example = tuple[tuple[str, ...], dict[str, float]]


def random_faults(rng: np.random.Generator) -> tuple[str, ...]:
    """Draw one fault (all alike), one time in ten two, sorted; () is sound."""
    count = 2 if rng.random() < PAIRS else 1
    drawn = rng.choice(list(GROUP_OF), count, replace=False)
    return tuple(sorted({str(fault) for fault in drawn} - {"sound"}))


def machine_examples(number: int, seed: int, keep: Path | None = None) -> list[list[Example]]:
    """Signatures of one machine by spin and phone: first the sound spin, then the tests.

    Empty if the machine cannot be run. Recordings are rounded to single precision; ``keep`` names a
    folder to keep them in, None to keep nothing.
    """
    # By digest of the reader, so that a changed reader reads again by itself.
    kept = keep / f"{number}-{reader_digest()}.json" if keep else None
    if kept and kept.exists():
        stored = json.loads(kept.read_text())
        return [[(tuple(faults), signature) for faults, signature in run] for run in stored]
    phones = _kept_or_simulated(number, seed, keep)
    runs = {run: _examples(phones, run) for run in range(1 + TESTS) if f"f{run}" in phones}
    # Without the sound run there is no baseline to compare the tests with.
    examples = [each for each in runs.values() if each] if runs.get(0) else []
    if kept:
        kept.write_text(json.dumps(examples))
    return examples


@cache
def reader_digest() -> str:
    """Digest of the source that makes a signature of a recording, 12 hex digits."""
    here = Path(str(files("counterpoise.spin")))
    read = (file.read_bytes() for file in sorted(here.rglob("*.py")) if file.name not in NOT_READER)
    return sha256(b"".join(read)).hexdigest()[:12]


def _kept_or_simulated(number: int, seed: int, keep: Path | None) -> dict[str, np.ndarray]:
    kept = keep / f"{number}.npz" if keep else None
    if kept and kept.exists():
        with np.load(kept) as stored:
            return dict(stored)
    phones = _simulated(number, seed)
    if kept:
        # Single precision, as the phones of the recordings are no better.
        np.savez(kept, allow_pickle=False, **phones)
    return phones


def _simulated(number: int, seed: int) -> dict[str, np.ndarray]:
    """Faults f0, times t0.0 and accelerations a0.0 ... of the sound run and each test, by phone.

    What cannot be run is left out; empty where the sound run cannot.
    """
    rng = np.random.default_rng([seed, number])
    setup, phones = random_setup(rng), {}
    # Programmes from 750 to 1,550 rpm (common practice: 800 to 1,600); sensors on any panel.
    setup = replace(setup, top_rpm=float(rng.uniform(750, 1550)), phone=random_place(rng))
    panels = random_panels(rng)
    for run, faults in enumerate([(), *(random_faults(rng) for _ in range(TESTS - 1)), ()]):
        aborts = run > 0 and number % ABORTING_ONE_IN == 0
        try:
            spin = synthetic_spin(
                setup,
                faults,
                rng,
                aborts_easily=aborts,
                panels=panels if rng.random() < FIELD_SHARE else (),
            )
        except (InputError, np.linalg.LinAlgError):
            spin = None  # a machine the dynamics room cannot bring to rest: rare, and no loss
        if spin:
            phones[f"f{run}"] = np.array("+".join(faults))
            for phone, each in enumerate(spin.recordings):
                phones[f"t{run}.{phone}"] = each.t_s.astype(np.float32)
                phones[f"a{run}.{phone}"] = each.acc_ms2.astype(np.float32)
                phones[f"v{run}.{phone}"] = spin.truths[phone].astype(np.float32)
        elif run == 0:
            return {}
    return phones


def _examples(phones: dict[str, np.ndarray], run: int) -> list[Example]:
    """One run as each phone recorded it; [] where the simulation broke off before it spun."""
    faults = tuple(fault for fault in str(phones[f"f{run}"]).split("+") if fault)
    examples: list[Example] = []
    for phone in range(PHONES_PER_SPIN):
        t, acc = (phones[f"{what}{run}.{phone}"].astype(np.float64) for what in "ta")
        # Times in single precision can meet; of two samples at one time the first stays.
        rises = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
        examples.append(
            (faults, read_spin(recording_from_samples(t[rises] - t[0], acc[rises])).signature)
        )
    return examples
