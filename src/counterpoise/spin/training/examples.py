"""Signatures of synthetic machines to learn from, and the folder that keeps them.

A folder holds the recordings of each machine (``N.npz``) and what was read from them
(``N-DIGEST.json``, the digest that of the reader's source): a change of the reader needs no new
simulation, one of the training no new reading. Whoever changes the synthetic recordings or the
dynamics room takes a new folder.
"""

import json
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path

import numpy as np

from counterpoise.dynamics.effects.physics_digest import bare, physics_digest
from counterpoise.errors import InputError
from counterpoise.spin.causes.groups import FAULTS_OF, GROUPS
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import Floats, Recording
from counterpoise.spin.training.field_conditions import Panel
from counterpoise.spin.training.synthetic_recordings import (
    PHONES_PER_SPIN,
    Asking,
    MachineSetup,
    SyntheticSpin,
    answered,
    asked_recordings,
    random_panels,
    random_place,
    random_setup,
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
# What makes a signature of a recording, and what draws machines and paints recordings.
READER = ("files/*.py", "speed/*.py", "features/*.py", "reading.py", "recording.py")
DRAWN_BY = ("examples", "field_conditions", "programmes", "random_machines", "synthetic_recordings")
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
    return _digest(READER)


@cache
def made_of() -> str:
    """Digests of the physics, of what draws machines, and of the reader: ``a-b-c``."""
    drawn = _digest(tuple(f"training/{name}.py" for name in DRAWN_BY))
    return f"{physics_digest()}-{drawn}-{reader_digest()}"


def _digest(patterns: tuple[str, ...]) -> str:
    """Digest of modules, 12 hex digits; words that only people read do not count."""
    here = Path(str(files("counterpoise.spin")))
    modules = [module for pattern in patterns for module in sorted(here.glob(pattern))]
    text = "\n".join(bare(module.read_text("utf-8")) for module in modules)
    return sha256(text.encode()).hexdigest()[:12]


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
    phones: dict[str, np.ndarray] = {}
    for run in runs_of_machine(number, seed):
        try:
            spin = answered(run.asked())
        except (InputError, np.linalg.LinAlgError):
            spin = None  # a machine the dynamics room cannot bring to rest: rare, and no loss
        if spin:
            phones[f"f{run.run}"] = np.array("+".join(run.faults))
            for phone, each, true in zip(run.phones, spin.recordings, spin.truths, strict=True):
                phones[f"t{run.run}.{phone}"] = each.t_s.astype(np.float32)
                phones[f"a{run.run}.{phone}"] = each.acc_ms2.astype(np.float32)
                phones[f"v{run.run}.{phone}"] = true.astype(np.float32)
        elif run.run == 0:
            return {}
    return phones


@dataclass(frozen=True)
class RehearsedRun:
    """One run of one machine as drawn; all that is drawn for it later hangs on ``seed`` alone."""

    number: int
    run: int
    faults: tuple[str, ...]
    setup: MachineSetup
    aborts_easily: bool
    panels: tuple[Panel, ...]
    seed: tuple[int, ...]

    @property
    def phones(self) -> tuple[int, ...]:
        """Both phones hear the sound run, one of them each test, in turn."""
        return tuple(range(PHONES_PER_SPIN)) if self.run == 0 else (self.run % PHONES_PER_SPIN,)

    def asked(self) -> Asking[SyntheticSpin | None]:
        """Ask for its spin anew, with the same draws each time."""
        return asked_recordings(
            self.setup,
            self.faults,
            np.random.default_rng(self.seed),
            aborts_easily=self.aborts_easily,
            panels=self.panels,
            phones=self.phones,
        )


def runs_of_machine(number: int, seed: int) -> list[RehearsedRun]:
    """Draw one machine and its runs: a sound one, the tests, and a sound one again."""
    rng = np.random.default_rng([seed, number])
    # Programmes from 750 to 1,550 rpm (common practice: 800 to 1,600); sensors on any panel.
    setup = replace(
        random_setup(rng), top_rpm=float(rng.uniform(750, 1550)), phone=random_place(rng)
    )
    panels = random_panels(rng)
    faults = [(), *(random_faults(rng) for _ in range(TESTS - 1)), ()]
    return [
        RehearsedRun(
            number,
            run,
            each,
            setup,
            run > 0 and number % ABORTING_ONE_IN == 0,
            panels if rng.random() < FIELD_SHARE else (),
            (seed, number, 1 + run),
        )
        for run, each in enumerate(faults)
    ]


def _examples(phones: dict[str, np.ndarray], run: int) -> list[Example]:
    """One run as each phone recorded it."""
    faults = tuple(fault for fault in str(phones[f"f{run}"]).split("+") if fault)
    return [
        (faults, signature_of(phones[f"t{run}.{phone}"], phones[f"a{run}.{phone}"]))
        for phone in range(PHONES_PER_SPIN)
        if f"t{run}.{phone}" in phones
    ]


def signature_of(t_s: np.ndarray, acc_ms2: np.ndarray) -> dict[str, float]:
    """Read a recording as it is kept, in single precision: (n,) s, (n, 3) m/s2."""
    return read_spin(recording_of(t_s, acc_ms2)).signature


def recording_of(t_s: np.ndarray, acc_ms2: np.ndarray) -> Recording:
    """A recording as it is kept, in single precision: (n,) s, (n, 3) m/s2."""
    t, acc = t_s.astype(np.float32).astype(float), acc_ms2.astype(np.float32).astype(float)
    # Times in single precision can meet; of two samples at one time the first stays.
    rises = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
    return recording_from_samples(t[rises] - t[0], acc[rises])


@dataclass(frozen=True)
class KeptRecording:
    """What one phone recorded of one run, and the true speed (2, n): s, rpm."""

    run: int
    phone: int
    faults: tuple[str, ...]
    recording: Recording
    truth: Floats


def kept_recordings(number: int, seed: int, keep: Path | None = None) -> list[KeptRecording]:
    """All recordings of a machine, by run and phone; empty if it cannot be run.

    ``keep`` names a folder to keep them in, None to keep nothing.
    """
    phones = _kept_or_simulated(number, seed, keep)
    # In the order of the runs, as the baseline of a machine is its first.
    return [
        KeptRecording(
            run,
            phone,
            tuple(fault for fault in str(phones[f"f{run}"]).split("+") if fault),
            recording_of(phones[f"t{run}.{phone}"], phones[f"a{run}.{phone}"]),
            phones[f"v{run}.{phone}"].astype(float),
        )
        for run in range(1 + TESTS)
        for phone in range(PHONES_PER_SPIN)
        if f"t{run}.{phone}" in phones
    ]


def numbers(text: str) -> list[int]:
    """Numbers of machines from ``640`` (the first 640) or ``0-119,400-499`` (both ends counted)."""
    if text.isdigit():
        return list(range(int(text)))
    spans = [tuple(map(int, span.split("-"))) for span in text.split(",")]
    return [number for low, high in spans for number in range(low, high + 1)]
