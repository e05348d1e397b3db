"""Where compiled planner and physics are kept, when the usual folders cannot be written."""

from __future__ import annotations

import os
import stat
import tempfile
from pathlib import Path

# https://numba.readthedocs.io/en/stable/reference/envvars.html
VARIABLE = "NUMBA_CACHE_DIR"


def keep_compiled() -> Path | None:
    """Name a folder for what is compiled, where neither of the compiler's own can be written.

    Without one it refuses to start. Returns the folder, None where the usual ones will do. To be
    called before the compiler is loaded.
    """
    # beside the program, as after a plain installation, or in the home of the user
    beside, home = Path(__file__).parents[1], Path("~").expanduser()
    kept = next((each for each in (home / ".cache", home) if each.exists()), home)
    if os.environ.get(VARIABLE) or os.access(beside, os.W_OK) or os.access(kept, os.W_OK):
        return None
    folder = _own_folder()
    os.environ[VARIABLE] = str(folder)
    return folder


def _own_folder() -> Path:
    """A folder that nobody else can write: what lies in it is run."""
    folder = Path(tempfile.gettempdir()) / f"counterpoise-compiled-{os.getuid()}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        known = folder.lstat()
    except OSError:
        return Path(tempfile.mkdtemp())
    own = stat.S_ISDIR(known.st_mode) and known.st_uid == os.getuid()
    # somebody else's, or one that others may write, might hold code of theirs
    return folder if own and not known.st_mode & 0o077 else Path(tempfile.mkdtemp())
