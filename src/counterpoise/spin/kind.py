"""Of what kind of machine a recording is: how fast it turns, and whether causes were rehearsed.

The rest of the room was made for machines that spin at up to 1,900 rpm and reads them as ever; a
kind that turns faster is followed at a pace of its own.
"""

from dataclasses import dataclass

# No household washer spins faster (common practice: 1600).
UNTOLD_TOP_RPM = 1900.0
# Over the speed told or usual for the kind: speeds overshoot, and the clocks of phones err by 1 to
# 2 % (estimates).
OVERSHOOT = 1.07


@dataclass(frozen=True)
class Kind:
    """A kind of machine as a recording knows it.

    ``top_rpm`` is the highest speed of any of the kind, None where it is not known; ``spins`` says
    whether it has a spin at all; ``no_cause`` is the sentence why a recording of it names no cause,
    empty where causes were rehearsed.
    """

    top_rpm: float | None = None
    spins: bool = True
    no_cause: str = ""


# What is read without a word about the machine: the washers that causes were rehearsed on.
USUAL_KIND = Kind()


@dataclass(frozen=True)
class Pace:
    """How speeds are looked for: the fastest where none was told, and how fast they change.

    Spectra of ``window_s`` up to ``spectrum_hz``; a path may rise by ``steps_up`` and fall by
    ``steps_down`` tenths of a Hz from frame to frame. A rise by more than a third within
    ``jump_s`` above ``jump_above_hz`` is a jump between orders and no climb.
    """

    untold_rpm: float
    window_s: float
    spectrum_hz: float
    steps_up: int
    steps_down: int
    jump_s: float
    jump_above_hz: float


# Windows of 2 s tell lines about 1 Hz apart; a longer one would blur a climb. 66 Hz are the third
# order of 1300 rpm; above it phones of 100 Hz and fewer see nothing anyway. In a hop of 0.25 s a
# drum gains 0.4 Hz at most (96 rpm a second; motors climb at 10 to 50, common practice) and loses
# 0.9 Hz (216 rpm a second; hard braking is 150, estimate). Jumps: above 240 rpm.
WASHER_PACE = Pace(UNTOLD_TOP_RPM, 2.0, 66.0, 4, 9, 2.0, 4.0)
# A light basket on its motor: 2,800 rpm in 10 to 20 s, braked in 7 (from memory), so the windows
# are half as long and the steps four and three times as wide: 288 and 600 rpm a second.
_FAST_STEPS = (12, 25)
_FAST_WINDOW_S, _FAST_JUMP_S, _FAST_JUMP_ABOVE_HZ = 1.0, 0.5, 8.0
# The third order and a little.
_FAST_ORDERS = 3.1


def is_fast(kind: Kind, told_rpm: float | None) -> bool:
    """Whether the machine turns faster than any washer: by its kind, else by the speed told."""
    return (kind.top_rpm or told_rpm or 0.0) > UNTOLD_TOP_RPM


def pace_of(kind: Kind, told_rpm: float | None) -> Pace:
    """The pace at which a drum is followed; that of washers unless it turns faster than they do."""
    if not is_fast(kind, told_rpm):
        return WASHER_PACE
    fastest = kind.top_rpm or told_rpm or UNTOLD_TOP_RPM
    return Pace(
        OVERSHOOT * fastest,
        _FAST_WINDOW_S,
        max(WASHER_PACE.spectrum_hz, _FAST_ORDERS * fastest / 60),
        *_FAST_STEPS,
        _FAST_JUMP_S,
        _FAST_JUMP_ABOVE_HZ,
    )


def expected_rpm(kind: Kind, told_rpm: float | None) -> float | None:
    """The speed that a recording has to be fast enough for; None: as usual for washers."""
    return told_rpm or (kind.top_rpm if is_fast(kind, None) else None)


def sees(rate_hz: float, rpm: float) -> bool:
    """Whether so many readings a second show a drum at this speed: half the rate, less a tenth."""
    return rate_hz >= 2.2 * rpm / 60
