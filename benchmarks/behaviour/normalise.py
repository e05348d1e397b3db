"""What is kept: times, days, ports and drawings made alike."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
import re
import sys
from typing import Any
from urllib.parse import unquote_to_bytes

_DAY_WORDS = re.compile(
    r"\b(\d{1,2}) (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]* (\d{4})(, \d\d:\d\d)?"
)
_DAY = re.compile(r"\b(\d{4}-\d\d-\d\d)(T\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:?\d\d)?)?")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_PICTURE = re.compile(r"data:image/([a-z+]+)(;base64)?,([A-Za-z0-9+/=%._~-]+)")
_DRAWING = re.compile(r"(?:<\?xml.{0,400}?)?<svg\b.*?</svg>", re.DOTALL)
_FAR = 500  # days; examples like 2026-03-05 in a text stay as they are


class Plain:
    """Makes alike what changes from one recording to the next."""

    def __init__(self, places: dict[str, str], today: dt.date) -> None:
        self.places, self.today = places, today

    def text(self, text: str) -> str:
        """A text with its drawings, folders, ports and days made alike."""
        text = drawn_alike(text)
        for place, name in self.places.items():
            text = text.replace(place, name)
        text = re.sub(r"127\.0\.0\.1(%3A|:)\d+", r"127.0.0.1\1<port>", text)
        text = re.sub(r"\.(css|js|svg)\?[0-9a-f]{8,}", r".\1?<state>", text)
        text = _DAY.sub(self._day, text)
        text = _DAY_WORDS.sub(self._day_words, text)
        text = text.replace(f"{self.today:%B %Y}", "<month>")
        return re.sub(r"(?<![\d-])(20\d\d)-([01]\d)(?![\d-])", self._month, text)

    def answer(self, kind: str, body: bytes) -> str:
        """The body of an answer of this media type."""
        if "json" in kind:
            told = json.loads(body)
            return json.dumps(self._deep(told), indent=1, ensure_ascii=False)
        if kind.startswith(("text/", "image/svg", "application/javascript")):
            return self.text(body.decode())
        return f"<{len(body)} bytes, sha256 {hashlib.sha256(body).hexdigest()}>"

    def _deep(self, told: Any) -> Any:
        if isinstance(told, dict):
            return {self.text(key): self._deep(value) for key, value in told.items()}
        if isinstance(told, list):
            return [self._deep(value) for value in told]
        return self.text(told) if isinstance(told, str) else told

    def _away(self, day: dt.date, written: str, later: str) -> str:
        days = (day - self.today).days
        return f"<day{days:+d}{later}>" if -2 <= days <= _FAR else written

    def _day(self, found: re.Match[str]) -> str:
        try:
            day = dt.date.fromisoformat(found[1])
        except ValueError:
            return found[0]
        return self._away(day, found[0], " time" if found[2] else "")

    def _month(self, found: re.Match[str]) -> str:
        """A month beside this one; those of examples stay as they are."""
        away = (int(found[1]) - self.today.year) * 12 + int(found[2]) - self.today.month
        return f"<month{away:+d}>" if abs(away) <= 1 else found[0]

    def _day_words(self, found: re.Match[str]) -> str:
        try:
            day = dt.date(int(found[3]), _MONTHS.index(found[2]) + 1, int(found[1]))
        except ValueError:
            return found[0]
        return self._away(day, found[0], " time" if found[4] else "")


def drawn_alike(text: str) -> str:
    """A text with each drawing and picture in it as its words and a digest."""
    return _DRAWING.sub(lambda found: drawing(found[0]), _PICTURE.sub(_picture, text))


def _picture(found: re.Match[str]) -> str:
    body = base64.b64decode(found[3]) if found[2] else unquote_to_bytes(found[3])
    if found[1] == "svg+xml":
        return drawing(body.decode())
    return f"<{found[1]}, sha256 {hashlib.sha256(body).hexdigest()}>"


def drawing(svg: str) -> str:
    """A drawing as its words and a digest of its lines, whatever it calls its parts."""
    names: dict[str, str] = {}
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(
        r"(?<=[\"#])[a-z][0-9a-f]{10}\b",
        lambda found: names.setdefault(found[0], f"part{len(names)}"),
        svg,
    )
    words = re.findall(r"<!--\s*(.*?)\s*-->|<text[^>]*>\s*(.*?)\s*</text>", svg, re.DOTALL)
    said = " | ".join(a or b for a, b in words)
    return f"<drawing: {said}; sha256 {hashlib.sha256(svg.encode()).hexdigest()}>"


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
