"""Draw the rooms and their arrows into docs/architecture.svg: ``python -m tools.picture``.

Boxes are packages of ``counterpoise``, arrows are imports between rooms that no longer chain of
arrows already says (the transitive reduction). Everything is read from the code, so that the
picture cannot drift: ``--check`` fails where the file is not what the code says.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from graphlib import TopologicalSorter
from html import escape
from pathlib import Path

import grimp

PICTURE = Path(__file__).parents[1] / "docs" / "architecture.svg"
ROOT = "counterpoise"
NESTED = ("workshop", "web", "report", "spin", "dynamics", "reasoning")  # drawn with their rooms
BOX_W, BOX_H, GAP_X, GAP_Y, PAD = 124, 34, 16, 40, 14
STYLE = (
    "text{font:13px sans-serif;fill:#14171a}.room{fill:#fff;stroke:#14171a}"
    ".house{fill:#f4f1ea;stroke:#14171a}.name{font-weight:bold}"
    ".arrow{stroke:#14171a;stroke-width:1;fill:none;marker-end:url(#tip);opacity:.55}"
)
Arrows = set[tuple[str, str]]
Place = tuple[float, float, float, float]  # left, top, width, height


def rooms_and_arrows() -> tuple[list[str], Arrows]:
    """The rooms ("workshop.jobs", "money", ...) and (importer, imported) between them."""
    graph = grimp.build_graph(ROOT, exclude_type_checking_imports=False)
    packages = {m.removeprefix(f"{ROOT}.") for m in graph.modules if graph.find_children(m)}
    top = sorted(p for p in packages if "." not in p and p != ROOT)
    rooms = [r for t in top for r in (_inner(t, packages) if t in NESTED else [t])]
    arrows = {
        (a, b)
        for module in graph.modules
        for imported in graph.find_modules_directly_imported_by(module)
        if (a := _room_of(module, rooms)) and (b := _room_of(imported, rooms)) and a != b
    }
    return rooms, arrows


def _inner(room: str, packages: set[str]) -> list[str]:
    inside = sorted(p for p in packages if p.startswith(f"{room}.") and p.count(".") == 1)
    return [room, *inside]


def _room_of(module: str, rooms: Iterable[str]) -> str:
    name = module.removeprefix(f"{ROOT}.")
    fitting = [room for room in rooms if name == room or name.startswith(f"{room}.")]
    return max(fitting, key=len, default="")


def layered(names: Iterable[str], arrows: Arrows) -> list[list[str]]:
    """Names in rows, each just below the lowest that imports it. Raises CycleError on a circle."""
    above = {name: {a for a, b in arrows if b == name} for name in names}
    depth: dict[str, int] = {}
    for name in TopologicalSorter(above).static_order():
        depth[name] = 1 + max((depth[other] for other in above.get(name, ())), default=-1)
    return [sorted(n for n in depth if depth[n] == row) for row in sorted(set(depth.values()))]


def reduced(arrows: Arrows) -> Arrows:
    """The arrows without those that a longer way already says (no circles)."""
    below: dict[str, set[str]] = {}
    for start, end in arrows:
        below.setdefault(start, set()).add(end)

    def reach(start: str) -> set[str]:
        return {start}.union(*(reach(end) for end in below.get(start, ())))

    return {
        (start, end)
        for start, end in arrows
        if not any(end in reach(other) for other in below[start] if other != end)
    }


def _between(arrows: Arrows) -> Arrows:
    tops = {(a.partition(".")[0], b.partition(".")[0]) for a, b in arrows}
    return {(a, b) for a, b in tops if a != b}


class Drawing:
    """Boxes placed row by row; arrows drawn between them."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.places: dict[str, Place] = {}

    def house(self, top: str, rows: list[list[str]], left: float, upper: float) -> Place:
        """A room with its inner rooms; returns its place."""
        width = _width(rows)
        height = (
            26 + len(rows) * (BOX_H + GAP_Y) - (GAP_Y - PAD if rows else 0) + (0 if rows else 8)
        )
        self.box(top, (left, upper, width, height), "house")
        for line, row in enumerate(rows):
            start = left + (width - len(row) * (BOX_W + GAP_X) + GAP_X) / 2
            for place, name in enumerate(row):
                x, y = start + place * (BOX_W + GAP_X), upper + 26 + line * (BOX_H + GAP_Y)
                self.box(name, (x, y, BOX_W, BOX_H), "room")
        return self.places[top]

    def box(self, name: str, place: Place, kind: str) -> None:
        """One box with its name."""
        x, y, w, h = self.places[name] = place
        text = escape(name.rpartition(".")[2])
        at = (x + w / 2, y + 18) if kind == "house" else (x + w / 2, y + h / 2 + 5)
        bold = ' class="name"' if kind == "house" else ""
        self.parts.append(
            f'<rect class="{kind}" x="{x:.0f}" y="{y:.0f}" width="{w:.0f}" height="{h:.0f}"'
            ' rx="4"/>'
            f'<text{bold} x="{at[0]:.0f}" y="{at[1]:.0f}" text-anchor="middle">{text}</text>'
        )

    def arrow(self, start: str, end: str) -> None:
        """An arrow from the lower edge of one box to the upper edge of another."""
        (ax, ay, aw, ah), (bx, by, bw, _) = self.places[start], self.places[end]
        x1, y1, x2, y2 = ax + aw / 2, ay + ah, bx + bw / 2, by - 3
        mid = (y1 + y2) / 2
        self.parts.append(
            f'<path class="arrow" d="M{x1:.0f},{y1:.0f} C{x1:.0f},{mid:.0f} {x2:.0f},{mid:.0f}'
            f' {x2:.0f},{y2:.0f}"/>'
        )


def _rows_of(top: str, rooms: list[str], arrows: Arrows) -> tuple[list[list[str]], Arrows]:
    inside = [room for room in rooms if room.startswith(f"{top}.")]
    among = {(a, b) for a, b in arrows if a in inside and b in inside}
    return (layered(inside, among) if inside else []), reduced(among)


def _width(rows: list[list[str]]) -> float:
    wide = max((len(row) for row in rows), default=1)
    return max(wide * (BOX_W + GAP_X) - GAP_X + 2 * PAD, BOX_W)


def picture() -> str:
    """The picture as SVG text."""
    rooms, arrows = rooms_and_arrows()
    tops = sorted({room.partition(".")[0] for room in rooms})
    outer = _between(arrows)
    inside = {top: _rows_of(top, rooms, arrows) for top in tops}
    rows = layered(tops, outer)
    widths = [sum(_width(inside[t][0]) + 2 * GAP_X for t in row) - 2 * GAP_X for row in rows]
    right, upper, drawing = max(widths) + 20, 10.0, Drawing()
    for row, width in zip(rows, widths, strict=True):
        left, low = (right - width) / 2, upper
        for top in row:
            x, _, w, h = drawing.house(top, inside[top][0], left, upper)
            left, low = x + w + 2 * GAP_X, max(low, upper + h)
        upper = low + GAP_Y
    boxes, drawing.parts = drawing.parts, []
    for start, end in sorted(reduced(outer)):
        drawing.arrow(start, end)
    # arrows between houses run behind the boxes, those inside a house before it
    behind, drawing.parts = drawing.parts, []
    for start, end in sorted(arrow for _, among in inside.values() for arrow in among):
        drawing.arrow(start, end)
    body = "\n".join([*behind, *boxes, *drawing.parts])
    tip = (
        '<defs><marker id="tip" markerWidth="8" markerHeight="8" refX="4" refY="4" orient="auto">'
        '<path d="M0,1 L6,4 L0,7 z" fill="#14171a"/></marker></defs>'
    )
    size = f'viewBox="0 0 {right:.0f} {upper:.0f}" width="{right:.0f}" height="{upper:.0f}"'
    title = "<title>Rooms of Counterpoise; an arrow means: imports</title>"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img">{title}<style>{STYLE}</style>'
        f"{tip}\n{body}\n</svg>\n"
    )


def main() -> None:
    """Write the picture, or with ``--check`` fail where the file is not what the code says."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--check", action="store_true", help="write nothing; exit 1 if stale")
    drawn = picture()
    if options.parse_args().check:
        if not PICTURE.exists() or PICTURE.read_text("utf-8") != drawn:
            sys.exit("docs/architecture.svg is stale: run python -m tools.picture")
        return
    PICTURE.write_text(drawn, encoding="utf-8")


if __name__ == "__main__":
    main()
