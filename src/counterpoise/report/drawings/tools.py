"""The hand or tool at a mark, as a small sign: what it is drawn like, and which a step takes.

A sign lies in a square of 26 units round its middle.
"""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.workshop.diagnosis.assessment import Step

# what each sign is in words, for who cannot see it, and its lines
SIGNS: Mapping[str, tuple[str, str]] = {
    "ask": ("a question", "M-11-9h22v15h-12l-6 6v-6h-4zM-5-3h10M-5 1h6"),
    "eye": ("by eye", "M-12 0q12-13 24 0q-12 13-24 0zM-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0z"),
    "torch": (
        "torch and eye",
        "M-12-3h11v6h-11zM-1-3l6-4v14l-6-4zM8-6l4-3M8 0h5M8 6l4 3",
    ),
    "mirror": ("mirror", "M-12 11l9-9M-5-5a8 8 0 1 0 16 0a8 8 0 1 0-16 0zM1-8l5 5"),
    "hand": (
        "by hand",
        "M-8 12v-8l-4-6q2-3 5 1l2 3v-12q2-3 4 0v-2q2-3 4 0v10v-8q2-3 4 0v9v-5q2-3 4 0v9q0 6-4 9z",
    ),
    "ear": ("by ear", "M-6 3q-4-14 5-14q9 0 8 9q-1 5-5 7q-2 6-6 6q-3 0-3-3M-2-1q0-6 4-5q4 1 1 5"),
    "meter": (
        "meter",
        "M-10-12h14v24h-14zM-7-9h8v6h-8M-6 4a3 3 0 1 0 6 0a3 3 0 1 0-6 0M4 8q8 0 6-16M4 11q9 0 9-9",
    ),
    "level": ("spirit level", "M-13-4h26v8h-26zM-5-4v8M5-4v8M-2 0a2 2 0 1 0 4 0a2 2 0 1 0-4 0z"),
    "rule": ("rule", "M-13-4h26v8h-26zM-9-4v4M-5-4v3M-1-4v4M3-4v3M7-4v4"),
    "scale": (
        "luggage scale",
        "M-7-8a7 7 0 1 0 14 0a7 7 0 1 0-14 0zM0-8l3-4M0-1v6q0 6-5 5q-3-1-2-4",
    ),
    "gauge": ("feeler gauge", "M-12 8l20-14M-12 8l23-7M-12 8l23 0M-12 8l22 7M-13 6l3 4"),
    "dial": ("dial gauge", "M-10-3a10 10 0 1 0 20 0a10 10 0 1 0-20 0zM0-3l5-5M0 7v6M-3 13h6"),
    "bucket": ("bucket and watch", "M-10-6h20l-3 18h-14zM-10-6q10-12 20 0"),
    "spin": ("let it run", "M8-8a11 11 0 1 0 3 9M9-14v7h-7"),
    "phone": ("phone", "M-7-12h14v24h-14zM-7-8h14M-7 8h14M-1 10h2"),
    "spanner": (
        "spanner",
        "M-12 12q-3-3 0-6l9-9q-2-6 3-9q3-1 5 0l-5 5v4h4l5-5q2 9-4 10q-2 1-4 0l-9 9q-2 2-4 1z",
    ),
    "screwdriver": ("screwdriver", "M-12 12l-1-3l10-10l4 4l-10 10zM-1 1l10-11M7-12l4 4l2-3l-3-2z"),
    "pliers": ("pliers", "M-5-13q-5 6 3 11q8 6 9 15M5-13q5 6-3 11q-8 6-9 15M-3-12v4M3-12v4"),
    "driver": ("drift and hammer", "M-3-12h13v8h-13zM2-4v16h4v-16"),
    "hose": ("clean hose", "M-12-6q8-8 12 0t12 0M-12 2q8-8 12 0t12 0"),
    "towels": ("wet towels", "M-12-6h24v5h-24zM-12 1h24v5h-24zM-8 8v4M0 8v4M8 8v4"),
    "trolley": ("trolley", "M-10-12v20h14M-6-8h12v14h-12zM-9 11a2 2 0 1 0 4 0a2 2 0 1 0-4 0z"),
    "brush": ("brush", "M-3-13h6v9h-6zM-9-4h18v6h-18zM-8 2v9M-3 2v9M2 2v9M7 2v9"),
}
# words of tools, in the order in which they say most of what the hand does
_BY_TOOL = (
    ("multimeter", "meter"), ("insulation tester", "meter"), ("capacitance", "meter"),
    ("power meter", "meter"), ("meter", "meter"), ("phone for photos", ""), ("phone", "phone"),
    ("luggage scale", "scale"), ("scale", "scale"), ("feeler", "gauge"), ("dial gauge", "dial"),
    ("spirit level", "level"), ("ruler", "rule"), ("rule", "rule"), ("mirror", "mirror"),
    ("bucket", "bucket"), ("jug", "bucket"), ("towels", "towels"), ("trolley", "trolley"),
    ("hose brush", "brush"), ("brush", "brush"), ("clean hose", "hose"), ("vacuum", "brush"),
    ("torque wrench", "spanner"), ("socket", "spanner"), ("spanner", "spanner"),
    ("spring puller", "pliers"), ("spring pliers", "pliers"), ("pliers", "pliers"),
    ("crimp", "pliers"), ("screwdriver", "screwdriver"), ("drift", "driver"), ("hammer", "driver"),
    ("torch", "torch"),
)  # fmt: skip
_BY_KIND = {"ask": "ask", "look": "eye", "feel": "hand", "measure": "rule", "spin": "spin"}


def sign_for(step: Step, kind: str) -> str:
    """The sign of a step; ``kind``: of a check, else empty. Empty where nothing is done by hand."""
    if step.kind == "ending":
        return ""
    # what proves a repair is a run
    if step.kind == "proof":
        return "spin"
    # a question needs no tool, a hand feels better without, a run is watched and not held
    if kind in {"ask", "feel"} or (kind == "spin" and "phone" not in " ".join(step.tools)):
        return _BY_KIND[kind]
    # the words of a file are a person's own: any of them may hold the tool
    tools = ", ".join(step.tools).lower()
    named = next((sign for word, sign in _BY_TOOL if word in tools and sign), "")
    return named or _BY_KIND.get(kind, "hand")


def sign(name: str, x: float, y: float, times: float = 1.0) -> str:
    """A sign as SVG with its middle at x, y, so many ``times`` its size.

    Raises KeyError for an unknown name.
    """
    scale = "" if times == 1 else f" scale({times:g})"
    return f'<path transform="translate({x:g} {y:g}){scale}" d="{SIGNS[name][1]}"/>'
