"""Compiling the planner and the physics ahead of time, so that no job waits for it.

Numba compiles a kernel when it is first called and keeps the result beside the source. So a made-up
job is planned and a machine spun: what they call is what the pages and the demo call.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import queue
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from counterpoise.catalog.loader import families, load_family
from counterpoise.workshop.jobs.entries import Entry, Intake, Job
from counterpoise.workshop.jobs.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Mapping

Say = Callable[[str], object]
# soon enough for an eye, seldom enough to leave the cores to the compiler
_LOOK_AGAIN_S = 0.2


@dataclass(slots=True)
class Compiled:
    """What was compiled of a part: kernels by name with their seconds, and seconds of the whole.

    A kernel's seconds hold those of the kernels that were compiled because it calls them.
    """

    part: str
    kernels: dict[str, float] = field(default_factory=dict)
    seconds: float = 0.0


def plan_a_job() -> None:
    """Plan a made-up job of the first shipped family: brings in every kernel of the planner."""
    from counterpoise.workshop.diagnosis.assess import assess
    from counterpoise.workshop.diagnosis.job_case import JobCase

    # any will do: kernels are compiled by the types of arrays, not by their sizes
    family = load_family(families()[0])
    intake = Intake(family.id, "customer", "", tuple(family.complaints)[:1])
    # a fixed day: planning must not depend on when it is compiled
    job = Job(0, (Entry(1, "2026-01-01T00:00:00Z", "", intake),))
    assess(JobCase(job, family, Settings()))


def spin_a_machine() -> None:
    """Spin a sound machine up and down: brings in every kernel of the physics."""
    from counterpoise.dynamics.answers.what_if import WhatIf, run_cases

    # every kernel of the motion is on the way of a usual machine
    run_cases(WhatIf())


# The planner's kernels and those of the physics call none of each other, so the two parts can be
# compiled side by side without doing anything twice.
PARTS: Mapping[str, Callable[[], None]] = MappingProxyType(
    {"planner": plan_a_job, "physics": spin_a_machine}
)


def warm() -> None:
    """Bring in all kernels, compiling what is not compiled yet, in this process."""
    for bring_in in PARTS.values():
        bring_in()


def warm_side_by_side(say: Say = print) -> list[Compiled]:
    """Compile each part in a process of its own; ``say`` is told in words as it goes on.

    Returns what had to be compiled; no kernels where all were compiled before.
    """
    # spawn: a forked copy of a process with threads (numba's, the pages') may hang
    context = multiprocessing.get_context("spawn")
    with (
        context.Manager() as manager,
        ProcessPoolExecutor(len(PARTS), mp_context=context) as pool,
    ):
        words = manager.Queue()
        running = [pool.submit(_compile_part, part, words.put) for part in PARTS]
        # asked again and again, so that a process that was killed is noticed rather than waited for
        while not (all(each.done() for each in running) and words.empty()):
            with contextlib.suppress(queue.Empty):
                say(words.get(timeout=_LOOK_AGAIN_S))
        return [each.result() for each in running]


def _compile_part(part: str, say: Say) -> Compiled:
    """Compile what is not compiled yet of a part, and say what and how long it took."""
    start = time.monotonic()
    compiled = Compiled(part)
    # numba tells of every compilation in this process
    with _watched(compiled, say):
        PARTS[part]()
    compiled.seconds = time.monotonic() - start
    took = f"compiled in {compiled.seconds:.0f} s" if compiled.kernels else "compiled before"
    say(f"  {part}: {took}")
    return compiled


@contextlib.contextmanager
def _watched(compiled: Compiled, say: Say) -> Iterator[None]:
    """Note and say which kernels are compiled; a kernel's callees count with it."""
    from numba.core import event

    class Watch(event.Listener):
        depth, start = 0, 0.0

        def on_start(self, event: object) -> None:
            # only the outermost is named: callees compile within it
            if not self.depth:
                self.start = time.monotonic()
                say(f"  {compiled.part}: {_kernel(event)} ...")
            self.depth += 1

        def on_end(self, event: object) -> None:
            self.depth -= 1
            if not self.depth:
                kernel = _kernel(event)
                seconds = time.monotonic() - self.start
                compiled.kernels[kernel] = compiled.kernels.get(kernel, 0.0) + seconds

    watch = Watch()
    event.register("numba:compile", watch)  # type: ignore[no-untyped-call]  # numba ships no types
    try:
        yield
    finally:
        event.unregister("numba:compile", watch)  # type: ignore[no-untyped-call]


def _kernel(event: object) -> str:
    # numba ships no types, and its events may change: a name is not worth a failure
    dispatcher = getattr(event, "data", {}).get("dispatcher")
    return str(getattr(getattr(dispatcher, "py_func", None), "__name__", "a kernel"))
