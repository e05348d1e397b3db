"""The study on many machines, by Dask (extra ``cluster``)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from counterpoise.errors import InputError
from counterpoise.workshop.study import Order, blocks, play_block, summed


def run_on_cluster(order: Order, address: str, note: Callable[[int], None] = lambda _: None) -> dict[str, Any]:
    """Play all blocks on the workers of the Dask scheduler at ``address``. Raises InputError where none answers."""
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise InputError(
            "Dask is not installed", field="scheduler", remedy="Install counterpoise with the extra 'cluster'"
        ) from error
    try:
        client = Client(address, timeout="10s")
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            f"no scheduler answers at {address}", field="scheduler", remedy="Give its address, as tcp://host:8786"
        ) from error
    with client:
        futures = [client.submit(play_block, *block, pure=False) for block in blocks(order)]
        results = []
        for future in as_completed(futures):
            results.append(future.result())
            note(results[-1]["jobs"])
    return summed(iter(results), order)
