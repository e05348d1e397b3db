"""All comparisons with peers into one file: ``python -m benchmarks --out build/bench.json``."""

from __future__ import annotations

import argparse
import importlib
import json
from pathlib import Path
from typing import Any

MODULES = ("reasoning", "dynamics", "spin", "startup", "pools")
KEYS = ("name", "ours", "peer", "peer_name", "ratio", "unit", "work")
HERE = Path(__file__).parent


def collect(modules: tuple[str, ...]) -> list[dict[str, Any]]:
    """The rows of each module that is there; a module that fails stops the run."""
    found = []
    for name in modules:
        if (HERE / f"{name}.py").exists():
            found += importlib.import_module(f"benchmarks.{name}").rows()
    for row in found:
        if tuple(row) != KEYS:
            raise SystemExit(f"the row {row} has not the keys {', '.join(KEYS)}")
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("build/bench.json"), help="file to write")
    parser.add_argument("--only", choices=MODULES, action="append", help="only these modules")
    given = parser.parse_args()
    rows = collect(tuple(given.only or MODULES))
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text(json.dumps(rows, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    for row in rows:
        print(
            f"{row['name']}: {row['ours']:g} against {row['peer']:g} {row['unit']}"
            f" ({row['peer_name']})"
        )
        print(f"  {row['ratio']:g} to 1; {row['work']}")


if __name__ == "__main__":
    main()
