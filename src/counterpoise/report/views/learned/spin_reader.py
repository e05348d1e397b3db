"""How the reader of spins is set by closed jobs with a recording, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.workshop.services.learned.state import ReaderState


def reader_sentences(state: ReaderState | None) -> tuple[str, ...]:
    """What closed jobs say of the reader, and whether it goes by them; none without recordings."""
    if state is None:
        return ()
    machines = state.machines
    if state.temperature is None:
        return (
            f"Closed jobs with a recording: {machines}.",
            f"The reader of spins stays as it came until there are {state.least}.",
        )
    # said whether it is in use or not: whoever records wants to know what it is good for
    said = [f"Another temperature: {_said(state.temperature)}."]
    if state.weights is not None:
        said.append(f"Other weights of causes: {_said(state.weights)}.")
    if state.set:
        return f"The reader of spins is set by your {machines} closed jobs with a recording.", *said
    return (
        f"The reader of spins was held against your {machines} closed jobs with a recording.",
        *said,
        "That is too little, or no surer than luck: the reader stays as it came.",
    )


def _said(gain: tuple[float, float]) -> str:
    mean, error = gain
    return f"{mean:+.2f} ± {error:.2f} bits a machine, on machines it was not learned from"


__all__ = ["reader_sentences"]
