"""A reading that no phone measures is refused, with the time of its row."""

from io import BytesIO

import numpy as np
import pytest

from counterpoise.errors import RecordingError
from counterpoise.spin.files.read import MOST_MS2, read_recording


def _table(largest, unit="m/s2"):
    rng = np.random.default_rng(3)
    rows = [
        [at / 100, x, y, 9.81 + z] for at, (x, y, z) in enumerate(rng.normal(0, 0.3, (2000, 3)))
    ]
    rows[1234][2] = largest
    text = f"time [s],x [{unit}],y [{unit}],z [{unit}]\n"
    text += "\n".join(",".join(f"{value:.6g}" for value in row) for row in rows)
    return BytesIO(text.encode())


@pytest.mark.parametrize("largest", [1e8, -1e8, 1.01 * MOST_MS2])
def test_what_no_phone_measures_is_refused(largest):
    with pytest.raises(RecordingError, match=r"at 12\.3 s cannot be right: no phone") as caught:
        read_recording(_table(largest), "spin.csv")
    assert "unit" in caught.value.remedy


def test_in_whatever_unit_it_is_written():
    with pytest.raises(RecordingError, match="cannot be right"):
        read_recording(_table(110.0, "g"), "spin.csv")


def test_a_hard_knock_is_read():
    read_recording(_table(0.9 * MOST_MS2), "spin.csv")
