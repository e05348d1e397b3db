"""Compare two recorded sets."""

from __future__ import annotations

import argparse
import difflib
import re
from pathlib import Path

from benchmarks.behaviour.constants import REQUESTS
from benchmarks.behaviour.normalise import drawn_alike


def _files(folder: Path) -> dict[str, Path]:
    return {str(f.relative_to(folder)): f for f in sorted(folder.rglob("*")) if f.is_file()}


def _rounded(text: str, digits: int) -> str:
    """Numbers with many digits, rounded: another order of adding up is no difference."""
    return re.sub(
        r"-?\d+\.\d{6,}(?:e[-+]?\d+)?", lambda found: f"{float(found[0]):.{digits}g}", text
    )


def _difference(before: str, after: str, most: int) -> list[str]:
    """A short unified diff, each line no longer than can be read."""
    lines = list(
        difflib.unified_diff(before.splitlines(), after.splitlines(), "", "", "", "", 1, "")
    )[2:]
    cut = [line if len(line) <= 240 else f"{line[:237]}..." for line in lines]
    return [*cut[:most], f"  ... {len(cut) - most} lines more"] if len(cut) > most else cut


def compare(given: argparse.Namespace) -> int:
    """Say what differs between two recordings; 1 where anything does."""
    before, after = _files(given.before), _files(given.after)
    for folder, files in ((given.before, before), (given.after, after)):
        if REQUESTS not in files:
            raise SystemExit(f"{folder} holds no recording: there is no {REQUESTS}")
    differing: dict[tuple[str, ...], list[str]] = {}
    equal = 0
    for name in sorted(before.keys() & after.keys()):
        old, new = (drawn_alike(side[name].read_text(encoding="utf-8")) for side in (before, after))
        if given.digits:
            old, new = _rounded(old, given.digits), _rounded(new, given.digits)
        if old == new:
            equal += 1
            continue
        shown = _difference(old, new, given.lines)
        changed = tuple(line for line in shown if not line.startswith("@@"))
        differing.setdefault(changed, []).append(name)
    for changed, names in differing.items():
        print(names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more alike:")
        for name in names[1 : 1 + given.lines]:
            print(f"  {name}")
        print("\n".join(f"    {line}" for line in changed))
    alone = [f"only in {given.before}: {name}" for name in sorted(before.keys() - after.keys())]
    alone += [f"only in {given.after}: {name}" for name in sorted(after.keys() - before.keys())]
    print("\n".join(alone), end="\n" if alone else "")
    count = sum(len(names) for names in differing.values())
    print(f"{equal} files are equal, {count} differ, {len(alone)} are on one side only")
    return 1 if count or alone else 0
