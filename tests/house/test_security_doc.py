"""Each promise of docs/security.md stands on a test that is there."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "security.md").read_text("utf-8")
NAMED = re.findall(r"`(tests/[a-z_/]+\.py)(?:::(\w+))?`", TEXT)


def test_every_test_it_names_is_there():
    assert len(NAMED) > 40
    for file, name in NAMED:
        path = ROOT / file
        assert path.exists(), file
        assert not name or f"def {name}(" in path.read_text("utf-8"), (file, name)
