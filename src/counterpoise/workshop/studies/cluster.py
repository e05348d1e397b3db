"""The study on many machines, by Dask (extra ``cluster``)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from counterpoise.errors import InputError
from counterpoise.workshop.studies.checkpoints import BlockFigures, StudyOrder
from counterpoise.workshop.studies.study import Block, StudyFigures, carry_out, play_block


def run_on_cluster(
    order: StudyOrder,
    address: str,
    note: Callable[[int], None] = lambda _: None,
    *,
    kept: Path | None = None,
) -> StudyFigures:
    """Play all blocks on the workers of the Dask scheduler at ``address``.

    ``note`` is told the jobs of each finished block; with ``kept``, blocks are kept in that file.
    Raises InputError where no scheduler answers within ten seconds, or Dask is not installed.
    """
    # an extra: nobody who studies on one machine has to install it
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise InputError(
            "Dask is not installed",
            field="scheduler",
            remedy="Install counterpoise with the extra 'cluster'",
        ) from error
    try:
        client = Client(address, timeout="10s")
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            f"no scheduler answers at {address}",
            field="scheduler",
            remedy="Give its address, as tcp://host:8786",
        ) from error

    def play(work: Sequence[Block]) -> Iterator[BlockFigures]:
        # not pure: a block asked for again is played again, never taken from the cluster's memory
        futures = [client.submit(play_block, *block, pure=False) for block in work]
        for future in as_completed(futures):
            yield future.result()

    # blocks are appended here, by one process, whatever machine played them
    with client:
        return carry_out(order, play, note, kept)
