from hashlib import sha256
from pathlib import Path

import pytest

from counterpoise.reasoning.kernels import (
    bounds,
    expand,
    hope,
    informed,
    known,
    playing,
    probe,
    repairing,
    room,
    search,
    states,
    thorough,
)

DRAWN = {
    repairing: (bounds, room),
    hope: (bounds, room),
    probe: (bounds, hope, repairing, room),
    informed: (bounds,),
    states: (bounds,),
    search: (bounds, informed, states),
    expand: (bounds, hope, probe, repairing, room),
    known: (bounds,),
    thorough: (bounds, hope, probe, repairing, room),
    playing: (bounds, hope, probe, repairing, room),
}


@pytest.mark.parametrize("kernel", DRAWN, ids=lambda module: module.__name__.rpartition(".")[2])
def test_a_change_in_a_kernel_changes_the_files_that_call_it(kernel):
    text = b"".join(Path(drawn.__file__).read_bytes() for drawn in DRAWN[kernel])
    assert sha256(text).hexdigest()[:16] == kernel.DRAWS_ON
