"""No folder to keep what was compiled in: another is named, and nothing else changes."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from counterpoise.cli.compiled import VARIABLE, keep_compiled


@pytest.fixture
def nowhere(monkeypatch, tmp_path):
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    yield tmp_path
    # set by the program, not by the test
    os.environ.pop(VARIABLE, None)


def test_where_a_usual_folder_can_be_written_nothing_is_named(monkeypatch):
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setattr(os, "access", lambda _path, _mode: True)
    assert keep_compiled() is None
    assert VARIABLE not in os.environ


def test_else_one_of_our_own_is_named_and_used_again(nowhere):
    folder = keep_compiled()
    assert os.environ.pop(VARIABLE) == str(folder)
    assert folder.parent == nowhere
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert keep_compiled() == folder


@pytest.mark.parametrize("laid", ["writable by others", "a link"])
def test_what_others_laid_there_is_not_used(nowhere, laid):
    place = nowhere / f"counterpoise-compiled-{os.getuid()}"
    if laid == "a link":
        (nowhere / "theirs").mkdir()
        place.symlink_to(nowhere / "theirs")
    else:
        place.mkdir()
        place.chmod(0o777)
    assert keep_compiled() != place


# The compiler as it is where its own folders cannot be written; then a kernel is compiled and run.
_NOWHERE = """
import os
os.access = lambda path, mode: False
from counterpoise.cli.main import main
main.make_context("counterpoise", ["job"])
from numba.core import caching
chosen = [each for each in caching.CacheImpl._locator_classes if "UserProvided" in each.__name__]
assert len(chosen) == 1
caching.CacheImpl._locator_classes = chosen
from counterpoise.reasoning.kernels import compilation
@compilation.kernel_nogil
def twice(x):
    return 2.0 * x
print(twice(21.0))
"""


def test_the_program_runs_and_keeps_it_there(tmp_path):
    script = tmp_path / "run.py"
    script.write_text(_NOWHERE)
    surroundings = os.environ | {"TMPDIR": str(tmp_path)}
    surroundings.pop(VARIABLE, None)
    done = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, check=False, env=surroundings
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "42.0\n"
    kept = tmp_path / f"counterpoise-compiled-{os.getuid()}"
    assert any(Path(each).suffix == ".nbc" for each in kept.rglob("*"))
