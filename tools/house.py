"""Figures of the house: ``python -m tools.house [FOLDER ...] [--root DIR] [--json] [--check]``.

Counts what a reader meets: lengths of functions and files, files a folder, comments beside code,
docstrings that name a unit, shape or error, loose types, banned names, tests beside code.
``--root`` measures another checkout with the same definitions; ``--check`` fails where a bound is
broken. Definitions stand at each function, so that figures of two checkouts can be compared.
"""

from __future__ import annotations

import argparse
import ast
import io
import json
import re
import statistics
import sys
import tokenize
from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path

REPOSITORY = Path(__file__).parents[1]
BANNED = ("found", "told", "one", "seen")  # say nothing of what they hold
SENT = {("fit.py", "told")}  # names of fields that are sent as JSON and so stay
MOST_FILES, MOST_LINES, LONGEST_FUNCTION = 20, 300, 60
LEAST_COMMENTS, LEAST_NAMED, LEAST_TESTS = 0.093, 0.50, 0.60
# A docstring names a unit, a shape or an error: what a caller needs beyond the name.
NAMED = re.compile(
    r"\bRaises?\b|\w+Error\b|\((?:\w+, ?)*(?:\w+,)?\w*\) ?[a-z]|\(\w+, \w+(?:, \w+)*\)|\(\w,\)|"
    r"\b(?:minor units|minutes?|seconds?|hours?|days|years|months|percent|metres?|mm|kg|Hz|rpm|"
    r"rad|newtons?|m/s2|m/s²|N/m|bytes|ohms?|volts?|amperes?|EUR|ISO \d+|UTC|degrees?|dB|bits|"
    r"probabilit\w+|log|share|ratio|per cent|None where|None if|None when|or None|empty|"
    r"index|indices|shape|array|array of|sorted|in \[0, 1\]|0 to 1)\b"
)


@dataclass(frozen=True)
class Figures:
    """Figures of a set of source files; lengths in lines, shares of 1."""

    files: int
    code_lines: int
    function_median: float
    function_p90: float
    function_max: int
    file_max: int
    folder_max: int
    comments_to_code: float
    docstrings_named: float
    any_count: int
    banned_names: int
    long_lines: int
    tests_to_code: float


def python_files(*folders: Path) -> list[Path]:
    """All Python files below the folders, in order of path."""
    return sorted(
        file
        for folder in folders
        for file in ([folder] if folder.is_file() else folder.rglob("*.py"))
        if "__pycache__" not in file.parts
    )


def functions(tree: ast.AST) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Every function and method, nested ones too."""
    return [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]


def length(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function from ``def`` to its end, its docstring left out."""
    lines = (function.end_lineno or function.lineno) - function.lineno + 1
    first = function.body[0]
    if ast.get_docstring(function, clean=False) is not None:
        lines -= (first.end_lineno or first.lineno) - first.lineno + 1
    return lines


def comments_and_code(text: str) -> tuple[int, int]:
    """(comments, lines of code): comment tokens, and lines that hold a token other than text.

    Directives to tools (``noqa``, ``type:``, ``fmt:``) are no comments; docstrings are no code.
    """
    comments = 0
    code: set[int] = set()
    previous = tokenize.INDENT
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            directive = re.match(r"#\s*(noqa|type:|fmt:|pragma)", token.string)
            comments += not directive
            continue
        alone = previous in {tokenize.INDENT, tokenize.DEDENT, tokenize.NEWLINE, tokenize.ENCODING}
        docstring = token.type == tokenize.STRING and alone
        if token.type not in {tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
                              tokenize.ENDMARKER} and not docstring:  # fmt: skip
            code.update(range(token.start[0], token.end[0] + 1))
        if token.type != tokenize.NL:
            previous = token.type
    return comments, len(code)


def public_docstrings(tree: ast.AST) -> list[str]:
    """Docstrings of public functions, methods and classes."""
    kinds = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
    nodes = [n for n in ast.walk(tree) if isinstance(n, kinds) and not n.name.startswith("_")]
    return [text for node in nodes if (text := ast.get_docstring(node))]


def loose_types(tree: ast.AST) -> int:
    """How often ``Any`` stands in annotations and aliases."""
    return sum(isinstance(n, ast.Name) and n.id == "Any" for n in ast.walk(tree))


def banned_names(tree: ast.AST) -> list[tuple[int, str]]:
    """(line, name) of parameters, fields and returned names that are banned, and functions."""
    hits: list[tuple[int, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.arg) and node.arg in BANNED:
            hits.append((node.lineno, node.arg))
        elif isinstance(node, ast.Return) and isinstance(node.value, ast.Name):
            hits += [(node.lineno, node.value.id)] if node.value.id in BANNED else []
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name in BANNED:
            hits.append((node.lineno, node.name))
        elif isinstance(node, ast.ClassDef):
            hits += [
                (field.lineno, field.target.id)
                for field in node.body
                if isinstance(field, ast.AnnAssign)
                and isinstance(field.target, ast.Name)
                and field.target.id in BANNED
            ]
    return sorted(hits)


def measure(folders: list[Path], tests: list[Path]) -> Figures:
    """Figures of the source files below ``folders``; ``tests`` are counted beside them."""
    files = python_files(*folders)
    texts = {file: file.read_text("utf-8") for file in files}
    trees = {file: ast.parse(text) for file, text in texts.items()}
    lengths = sorted(length(f) for tree in trees.values() for f in functions(tree)) or [0]
    counted = [comments_and_code(text) for text in texts.values()]
    comments, code = (sum(column) for column in zip(*counted, strict=True))
    docstrings = [text for tree in trees.values() for text in public_docstrings(tree)]
    lines = [line for text in texts.values() for line in text.splitlines()]
    test_lines = sum(len(file.read_text("utf-8").splitlines()) for file in python_files(*tests))
    return Figures(
        files=len(files),
        code_lines=code,
        function_median=statistics.median(lengths),
        function_p90=lengths[int(0.9 * (len(lengths) - 1))],
        function_max=lengths[-1],
        file_max=max(len(text.splitlines()) for text in texts.values()),
        folder_max=max(Counter(file.parent for file in files).values()),
        comments_to_code=round(comments / max(1, code), 3),
        docstrings_named=round(
            sum(bool(NAMED.search(text)) for text in docstrings) / max(1, len(docstrings)), 3
        ),
        any_count=sum(map(loose_types, trees.values())),
        banned_names=len(where_banned(folders)),
        long_lines=sum(len(line) > 100 for line in lines),
        tests_to_code=round(test_lines / max(1, len(lines)), 3),
    )


def broken_bounds(figures: Figures) -> list[str]:
    """What is beyond its bound, in words; empty where all is well."""
    wrong = []
    for name, bound in (("folder_max", MOST_FILES), ("file_max", MOST_LINES),
                        ("function_max", LONGEST_FUNCTION), ("banned_names", 0),
                        ("long_lines", 0)):  # fmt: skip
        if getattr(figures, name) > bound:
            wrong.append(f"{name} is {getattr(figures, name)}, at most {bound}")
    for name, least in (("comments_to_code", LEAST_COMMENTS), ("docstrings_named", LEAST_NAMED),
                        ("tests_to_code", LEAST_TESTS)):  # fmt: skip
        if getattr(figures, name) < least:
            wrong.append(f"{name} is {getattr(figures, name)}, at least {least}")
    return wrong


def crowded(root: Path) -> list[str]:
    """Folders of sources, tests and pages with more files than ``MOST_FILES``, any kind of file."""
    here = [root / "src", root / "tests", root / "tools", root / "benchmarks"]
    counts = Counter(
        file.parent
        for folder in here
        for file in folder.rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    )
    return [f"{folder.relative_to(root)}: {n} files" for folder, n in counts.items()
            if n > MOST_FILES]  # fmt: skip


def where_banned(folders: list[Path]) -> list[str]:
    """``file:line name`` of every banned name."""
    return [
        f"{file}:{line} {name}"
        for file in python_files(*folders)
        for line, name in banned_names(ast.parse(file.read_text("utf-8")))
        if (file.name, name) not in SENT
    ]


def main() -> None:
    """Print the figures, and with ``--check`` fail where a bound is broken."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folders", nargs="*", type=Path, help="default: all of src")
    options.add_argument("--tests", nargs="*", type=Path, help="default: all of tests")
    options.add_argument("--root", type=Path, default=REPOSITORY)
    options.add_argument("--json", action="store_true")
    options.add_argument("--banned", action="store_true", help="list the banned names")
    options.add_argument("--check", action="store_true", help="exit 1 where a bound is broken")
    asked = options.parse_args()
    folders = asked.folders or [asked.root / "src"]
    figures = measure(folders, asked.tests or [asked.root / "tests"])
    rows = asdict(figures)
    print(json.dumps(rows, indent=1) if asked.json else
          "\n".join(f"{name:18} {value}" for name, value in rows.items()))  # fmt: skip
    if asked.banned:
        print("\n".join(where_banned(folders)))
    wrong = broken_bounds(figures) + crowded(asked.root)
    if asked.check and wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
