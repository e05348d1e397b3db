"""The study on many machines, by Dask (extra ``cluster``)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from counterpoise.errors import InputError
from counterpoise.workshop.studies.checkpoints import Order
from counterpoise.workshop.studies.study import Block, carried_out, play_block


def run_on_cluster(
    order: Order,
    address: str,
    note: Callable[[int], None] = lambda _: None,
    *,
    kept: Path | None = None,
) -> dict[str, Any]:
    """Play all blocks on the workers of the Dask scheduler at ``address``. Raises InputError where none answers."""
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

    def play(work: Sequence[Block]) -> Iterator[dict[str, Any]]:
        for future in as_completed(
            [client.submit(play_block, *block, pure=False) for block in work]
        ):
            yield future.result()

    with client:
        return carried_out(order, play, note, kept)
