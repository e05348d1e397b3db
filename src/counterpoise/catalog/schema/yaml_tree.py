"""A YAML 1.2 file as plain data that remembers on which line everything stands.

The file is composed into nodes and walked here, so that every duplicate key is reported, not only
the first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Loc = tuple[str | int, ...]
# nearly forty times the largest shipped family
MAX_BYTES = 5_000_000
MAX_NODES = 500_000  # aliases can blow a small file up; no honest file comes near
TAG = "tag:yaml.org,2002:"


@dataclass(slots=True)
class Tree:
    """Plain data, the line of each place, and the mistakes as ``file:line: what; remedy``."""

    # the file's name alone: whoever reads a message knows the folder
    name: str
    data: Any = None
    lines: dict[Loc, int] = field(default_factory=dict)
    problems: list[tuple[int, str]] = field(default_factory=list)

    def line(self, loc: Loc) -> int:
        """The line where a place, or the nearest place that holds it, is written; 1 if empty."""
        # a missing key has no line of its own: the entry that lacks it has
        here = tuple(loc)
        while here and here not in self.lines:
            here = here[:-1]
        return self.lines.get(here, 1)

    def add(self, loc: Loc, what: str, remedy: str) -> None:
        """Write a mistake down at the line of a place; an unknown place goes by what holds it."""
        self.problems.append((self.line(loc), f"{what}; {remedy}"))

    def report(self) -> list[str]:
        """All mistakes as ``file:line: ...``, sorted by line, each once; empty if none."""
        once = sorted(dict.fromkeys(self.problems), key=lambda problem: problem[0])
        return [f"{self.name}:{line}: {text}" for line, text in once]


def read_tree(path: Path) -> Tree:
    """Read a file; what cannot be read at all is a mistake in the tree, never an exception."""
    tree = Tree(path.name)
    try:
        # bytes, so that a wrong encoding can be told with its line
        raw = path.read_bytes()
    except OSError as error:
        tree.add((), f"cannot be read: {error.strerror or error}", "check the name and the rights")
        return tree
    return parse_tree(raw, tree)


def parse_tree(raw: bytes, tree: Tree) -> Tree:
    """Fill a tree from the bytes of a file, UTF-8 with or without a mark; Raises nothing."""
    # before decoding: a video given by mistake must not fill the memory
    if len(raw) > MAX_BYTES:
        tree.add((), f"has {len(raw)} bytes, the limit is {MAX_BYTES}", "is it the right file?")
        return tree
    try:
        # editors on some systems begin a file with a mark
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        tree.problems.append(
            (raw.count(b"\n", 0, error.start) + 1, "is not UTF-8 text; save the file as UTF-8")
        )
        return tree
    try:
        # nodes, not values: values know no lines, and a table keeps only the last of equal keys
        node = YAML(typ="safe", pure=True).compose(text)
    except YAMLError as error:
        tree.problems.append(_syntax(error))
        return tree
    except RecursionError:
        tree.add((), "is nested too deeply", "write it flatter")
        return tree
    if node is None:
        tree.add((), "is empty", "write the entries")
        return tree
    walk = _Walk(tree)
    tree.data = walk.value(node, ())
    return tree


def _syntax(error: YAMLError) -> tuple[int, str]:
    # errors of the reader and of the scanner have different fields
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    what = str(
        getattr(error, "problem", None) or getattr(error, "reason", None) or error
    ).splitlines()[0]
    context = getattr(error, "context", None)
    where = f" ({context})" if context else ""
    line = mark.line + 1 if mark is not None else 1
    remedy = "check indentation, colons, brackets and quotes there and just above"
    return line, f"is not YAML: {what}{where}; {remedy}"


class _Walk:
    """Turns nodes into plain data, noting lines and duplicate keys."""

    def __init__(self, tree: Tree) -> None:
        self.tree, self.count, self.endless = tree, 0, False
        self.open: set[int] = set()
        self.constructor = YAML(typ="safe", pure=True).constructor

    def value(self, node: Node, loc: Loc) -> object:
        """The plain value of a node; None where an alias would make the file endless."""
        self.count += 1
        self.tree.lines.setdefault(loc, node.start_mark.line + 1)
        # too many nodes, or a node within itself
        if self.count > MAX_NODES or id(node) in self.open:
            if not self.endless:
                self.tree.add(
                    loc,
                    "an alias makes the file endless",
                    "write the entry out instead of repeating it by *",
                )
            self.endless = True
            return None
        if isinstance(node, ScalarNode):
            return self._scalar(node, loc)
        self.open.add(id(node))
        whole = (
            self._mapping(node, loc) if isinstance(node, MappingNode) else self._sequence(node, loc)
        )
        # an alias beside its anchor is honest; only one inside it is endless
        self.open.discard(id(node))
        return whole

    def _mapping(self, node: MappingNode, loc: Loc) -> dict[object, object]:
        result: dict[object, object] = {}
        for key, line, child in self._keys(node, loc):
            # what is no text or whole number (true, 0.5) is named as it is written
            here = (*loc, key if isinstance(key, int | str) else str(key))
            if key in result:
                first = self.tree.line(here)
                what = f"{spell(loc)}key {key} is given twice, first in line {first}; "
                what += "leave one of them out"
                self.tree.problems.append((line, what))
                continue
            self.tree.lines[here] = line
            result[key] = self.value(child, here)
        return result

    def _keys(self, node: MappingNode, loc: Loc) -> Iterator[tuple[object, int, Node]]:
        for key_node, child in node.value:
            line = key_node.start_mark.line + 1
            if isinstance(key_node, ScalarNode):
                yield self._scalar(key_node, loc), line, child
            else:
                text = f"{spell(loc)}a key must be one word; "
                text += "put a colon and a blank after it, or quote it"
                self.tree.problems.append((line, text))

    def _sequence(self, node: Node, loc: Loc) -> list[object]:
        return [self.value(child, (*loc, number)) for number, child in enumerate(node.value)]

    def _scalar(self, node: ScalarNode, loc: Loc) -> object:
        # by YAML 1.2: 'no' and 'on' are words, which countries and switches rely on
        kind = str(node.tag).removeprefix(TAG)
        if kind in {"int", "float", "bool", "null"}:
            return getattr(self.constructor, f"construct_yaml_{kind}")(node)
        # a date stays text; a tag of a language's objects is never obeyed
        if kind not in {"str", "timestamp", "merge", "value"}:
            self.tree.problems.append(
                (
                    node.start_mark.line + 1,
                    f"{spell(loc)}the tag {node.tag} is not allowed; write a plain text or number",
                )
            )
        return str(node.value)


def spell(loc: Loc) -> str:
    """A place in words: ``checks.drum_by_hand.minutes: ``; empty for the whole file."""
    return f"{'.'.join(str(part) for part in loc)}: " if loc else ""
