"""What a recording is once it has been read, and what may be known of its file beforehand."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GRAVITY_MS2 = 9.80665  # standard gravity (3rd CGPM, 1901)


@dataclass(frozen=True)
class FormatHints:
    """What the user knows about a file; None, ``""`` or ``()`` where the reader has to find out.

    ``columns`` names or 0-based numbers of time, x, y, z; ``acc_unit`` one of g, mg, m/s2, cm/s2;
    ``time_unit`` one of s, ms, us, ns, iso; ``rate_hz`` for a file without a time column.
    """

    columns: tuple[str | int, ...] = ()
    acc_unit: str = ""
    time_unit: str = ""
    decimal_comma: bool | None = None
    rate_hz: float | None = None


@dataclass(frozen=True)
class Note:
    """One remark about a recording: a stable code for programs and plain words for people."""

    code: str
    text: str


class NoteData(TypedDict):
    """A remark as JSON."""

    code: str
    text: str


def notes_data(notes: Iterable[Note]) -> list[NoteData]:
    """Return remarks as JSON types; empty if there are none."""
    return [{"code": note.code, "text": note.text} for note in notes]


@dataclass(frozen=True)
class Recording:
    """Time and specific force as they came, in SI units.

    ``t_s`` (n,) starts at 0 and rises strictly; ``acc_ms2`` (n, 3) in the phone's axes, gravity
    included if the phone included it; ``rate_hz`` is the mean sample rate; ``step_ms2`` the finest
    step of the readings; ``clipped_fraction`` the share of samples at the end of the range.
    """

    t_s: Floats
    acc_ms2: Floats
    rate_hz: float
    step_ms2: float
    has_gravity: bool
    clipped_fraction: float
    notes: tuple[Note, ...]

    @property
    def duration_s(self) -> float:
        """Length of the recording in seconds."""
        return float(self.t_s[-1] - self.t_s[0])
