"""The lanes on a CUDA accelerator: the same functions, compiled by numba's CUDA compiler.

Wants the optional extra ``accelerator``; ``batch.spins`` imports this module only when it is asked
for a batch, so that a plain processor needs nothing new. One thread a machine; what changes at
every step lies in the thread's own memory.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from threading import Lock
from time import perf_counter
from typing import Any

import numba.cuda
import numpy as np

from counterpoise.dynamics.batch.lanes import SAMPLES, Lanes
from counterpoise.dynamics.batch.one_lane import run_lane
from counterpoise.dynamics.kernels.layout import BUSHINGS, COORDINATES
from counterpoise.dynamics.motion.equilibrium import FRICTIONS, MotionState, Workspace
from counterpoise.dynamics.motion.simulate import Samples
from counterpoise.errors import InputError

cuda: Any = numba.cuda
# Threads of a block: two warps, so that a batch of some thousand spins reaches every processor.
BLOCK = 64
# Two threads that call for the accelerator first of all would find it half woken.
_first = Lock()


def available() -> bool:
    """Whether there is an accelerator that this program can use."""
    with _first:
        there = bool(cuda.is_available())
        if there:
            cuda.current_context()
    return there


@contextmanager
def _single_literals(context: Any, dtype: type) -> Iterator[None]:
    """While it lasts, a number written in the kernels is single where ``dtype`` is.

    A literal is double by itself, and one of them makes a whole sum double.
    """
    from numba import types

    if dtype is not np.float32:
        yield
        return
    ordinary = context.resolve_value_type

    def single(value: Any) -> Any:
        # float64 is a subclass of float, and a number all the same
        return types.float32 if isinstance(value, float) else ordinary(value)

    context.resolve_value_type = single
    try:
        yield
    finally:
        del context.resolve_value_type


@cache
def compiled(dtype: type) -> Any:
    """Return the kernel for states of ``dtype``: (lanes, out, held, order) on the accelerator."""

    def run_lanes(lanes: Any, out: Any, held: Any, order: Any) -> None:
        thread = cuda.grid(1)
        if thread < order.shape[0]:
            # drive and memory are double: see ``lanes.ALWAYS_DOUBLE``
            state = MotionState(
                cuda.local.array(COORDINATES, dtype),
                cuda.local.array(COORDINATES, dtype),
                cuda.local.array(FRICTIONS, dtype),
                cuda.local.array(7, np.float64),
                cuda.local.array(5, np.float64),
            )
            work = Workspace(
                cuda.local.array((2, 3, 3), dtype),
                cuda.local.array((2, 6), dtype),
                cuda.local.array(8, dtype),
                cuda.local.array(8, dtype),
                cuda.local.array((4, 6), dtype),
                cuda.local.array(COORDINATES, dtype),
                cuda.local.array(COORDINATES, dtype),
                cuda.local.array(BUSHINGS, dtype),
                cuda.local.array(BUSHINGS, dtype),
                cuda.local.array((2, 3), dtype),
            )
            run_lane(lanes, out, held, order[thread], state, work)

    return cuda.jit(run_lanes)


class _Strided:
    """An array of the accelerator seen with other strides."""

    def __init__(self, array: Any, shape: tuple[int, ...], strides: tuple[int, ...]) -> None:
        self.kept = array
        self.__cuda_array_interface__ = array.__cuda_array_interface__ | {
            "shape": shape,
            "strides": strides,
        }


def _samples(shapes: dict[str, tuple[int, ...]], keep: tuple[str, ...]) -> Samples:
    """Arrays there; of what is not kept every sample goes into one and the same row."""

    def array(name: str, shape: tuple[int, ...]) -> Any:
        if name in keep:
            return cuda.device_array(shape, np.float32)
        one = cuda.device_array((shape[0], *shape[2:]), np.float32)
        lane, *rest = (*one.strides, 4)[: len(shape) - 1]
        return cuda.as_cuda_array(_Strided(one, shape, (lane, 0, *rest)))

    return Samples(*(array(name, shapes[name]) for name in Samples._fields))


def run_on_accelerator(
    lanes: Lanes, shapes: dict[str, tuple[int, ...]], keep: tuple[str, ...], dtype: type
) -> tuple[dict[str, np.ndarray], np.ndarray, float]:
    """Run all lanes: samples kept, by name; how many of each machine hold (n,); seconds of motion.

    Calls from several threads run beside one another. Raises InputError where there is no
    accelerator.
    """
    if not available():
        raise InputError(
            "there is no accelerator here",
            field="device",
            remedy="take the processor, or install counterpoise[accelerator] beside one",
        )
    number, stream = lanes.rows.shape[1], cuda.stream()
    # Neighbours step together: a warp takes as long as the longest run in it.
    order = np.argsort(-lanes.run.every * lanes.rows[SAMPLES], kind="stable").astype(np.int32)
    out, held = _samples(shapes, keep), cuda.device_array(number, np.int32)
    there, order = to_accelerator(lanes, stream), to_accelerator(order, stream)
    kernel = compiled(dtype)
    stream.synchronize()
    began = perf_counter()
    with _single_literals(kernel.typingctx, dtype):
        kernel[-(-number // BLOCK), BLOCK, stream](there, out, held, order)
    stream.synchronize()
    seconds = perf_counter() - began
    samples = {name: getattr(out, name).copy_to_host(stream=stream) for name in keep}
    numbers = held.copy_to_host(stream=stream)
    stream.synchronize()
    return samples, numbers, seconds


def to_accelerator(part: Any, stream: Any) -> Any:
    """Copy all arrays of nested named tuples to the accelerator."""
    if isinstance(part, np.ndarray):
        return cuda.to_device(part, stream=stream)
    return type(part)(*(to_accelerator(each, stream) for each in part))
