"""Which way a fault moved a quantity of one machine."""

# A change by a twentieth is the least that counts as one (estimate).
SHARE_CHANGED = 0.05


def side(sound: float, faulty: float, hardly: float) -> int:
    """1 where the faulty figure is plainly above the sound one, -1 below, 0 where neither."""
    # ``hardly`` keeps a twentieth of nothing from counting
    least = SHARE_CHANGED * abs(sound) + hardly
    return int(faulty > sound + least) - int(faulty < sound - least)
