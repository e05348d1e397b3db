"""Keep the digests of compiled kernels true: ``python -m tools.kernel_digests [--write]``.

The compiler's cache on disk watches only the file of the function called from outside. So each
kernel file that imports other kernel files holds the digest of those files in ``SOURCE_DIGEST``:
when one of them changes, so does the file that draws on it, and no stale code is run.
"""

from __future__ import annotations

import argparse
import ast
import re
import sys
from hashlib import sha256
from pathlib import Path

SOURCE = Path(__file__).parents[1] / "src"
FOLDERS = ("reasoning", "dynamics")
_LINE = re.compile(r'^SOURCE_DIGEST = "(\w*)"', re.MULTILINE)


def kernel_files() -> list[Path]:
    """All kernel files of the program."""
    return [
        file
        for folder in FOLDERS
        for file in sorted((SOURCE / "counterpoise" / folder / "kernels").glob("[a-z]*.py"))
    ]


def imported_kernels(file: Path) -> list[Path]:
    """The kernel files that ``file`` imports from, by name."""
    package = f"counterpoise.{file.parents[1].name}.kernels"
    named: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == package:
            named |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith(f"{package}."):
            named.add(str(node.module).rpartition(".")[2])
    return [file.with_name(f"{name}.py") for name in sorted(named)]


def digest_of(files: list[Path]) -> str:
    """Digest of the bytes of ``files``, 16 hexadecimal digits."""
    return sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:16]


def stale() -> dict[Path, str]:
    """The files whose digest is missing or wrong, with what it should be."""
    wrong = {}
    for file in kernel_files():
        imported = imported_kernels(file)
        if not imported:
            continue
        written = _LINE.search(file.read_text("utf-8"))
        wanted = digest_of(imported)
        if not written or written[1] != wanted:
            wrong[file] = wanted
    return wrong


def write() -> None:
    """Write the digests until none is stale; files that others draw on come first by themselves."""
    while wrong := stale():
        file, digest = next(iter(wrong.items()))
        text, count = _LINE.subn(f'SOURCE_DIGEST = "{digest}"', file.read_text("utf-8"))
        if not count:
            raise SystemExit(f'{file} imports kernels: give it a line SOURCE_DIGEST = ""')
        file.write_text(text, encoding="utf-8")


def main() -> None:
    """Say which digests are stale, or write them anew."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--write", action="store_true", help="write the digests anew")
    if options.parse_args().write:
        write()
    wrong = stale()
    for file, digest in wrong.items():
        print(f'{file.relative_to(SOURCE)}: SOURCE_DIGEST should be "{digest}"')
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
