"""The page on the model cannot drift from the model."""

import re
from pathlib import Path

from counterpoise.dynamics import FAULTS

PAGE = (Path(__file__).parents[3] / "docs" / "dynamics.md").read_text("utf-8")


def test_the_page_names_every_fault_and_no_other():
    table = PAGE.split("## Faults")[1].split("## Where")[0]
    assert set(re.findall(r"^\| `(\w+)`", table, re.MULTILINE)) == set(FAULTS)


def test_the_examples_of_the_page_run():
    blocks = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    assert len(blocks) == 2
    room: dict[str, object] = {}
    for block in blocks:
        exec(block, room)
    assert room["spin"].complete
    assert room["fitted"].values["spring_n_m"] > 0.0
