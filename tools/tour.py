"""The tour of docs/tour.md played: ``python -m tools.tour`` says what no longer stands on a page.

The page carries its own stage directions, in comments that a reader does not see:

``<!-- do: POST /jobs complaints=knocks story="Bangs." -->`` fills in a form and sends it; a value
``@FILE`` is a file, ``RECORDING`` the recording sent last. Fields that the page holds itself are
sent along where it was just looked at.
``<!-- on: /jobs/1 -->`` opens a page; ``here`` is where the form before led to.
``<!-- picture: bench.png 740 -->`` takes a picture of it, 360 px wide and so many high; a second
number is where on the page it begins.

What is **bold** must stand on the page that was opened last. ``make pictures`` plays the same and
writes the pictures.
"""

from __future__ import annotations

import html
import re
import shlex
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import httpx

    from counterpoise.workshop.services.workshop import Workshop

REPOSITORY = Path(__file__).parents[1]
TOUR = REPOSITORY / "docs" / "tour.md"
PICTURES = REPOSITORY / "docs" / "pictures"
_PIECE = re.compile(r"<!-- (do|on|picture): (.*?) -->|\*\*(.+?)\*\*", re.DOTALL)
Shoot = Callable[[str, str, int, int], None]  # address, name, height and top in px


@dataclass(frozen=True)
class Cue:
    """A stage direction, or words that must stand on the page; ``line`` in the file, from 1."""

    kind: str
    text: str
    line: int


def cues(tour: str) -> Iterator[Cue]:
    """All cues of the text of a tour, in order."""
    for match in _PIECE.finditer(tour):
        kind, direction, words = match.groups()
        line = tour.count("\n", 0, match.start()) + 1
        yield Cue(kind or "words", " ".join((direction or words).split()), line)


class _Forms(HTMLParser):
    """What the forms of a page send without being touched, by where they are sent."""

    def __init__(self) -> None:
        super().__init__()
        self.hidden: dict[str, list[tuple[str, str]]] = {}
        self._action = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._action = given.get("action", "")
            # two forms of one address: the first is the one at the top of the page
            self.hidden.setdefault(self._action, [])
        elif tag == "input" and given.get("type") == "hidden" and given.get("name"):
            self.hidden.setdefault(self._action, []).append((given["name"], given.get("value", "")))


class Player:
    """Plays the cues of a tour through a client of the pages."""

    def __init__(self, client: httpx.Client, shoot: Shoot | None = None) -> None:
        self._client, self._shoot = client, shoot
        self._here, self._words, self._recording = "", "", ""
        self._hidden: dict[str, list[tuple[str, str]]] = {}
        self.mistakes: list[str] = []

    def play(self, cue: Cue) -> None:
        """Play one cue; what goes wrong is added to ``mistakes``."""
        {"do": self._do, "on": self._on, "words": self._look, "picture": self._picture}[cue.kind](
            cue
        )

    def _wrong(self, cue: Cue, what: str) -> None:
        self.mistakes.append(f"line {cue.line}: {what}")

    def _do(self, cue: Cue) -> None:
        method, path, *fields = shlex.split(cue.text.replace("RECORDING", self._recording))
        pairs = [tuple(field.split("=", 1)) for field in fields]
        data: dict[str, list[str]] = {}
        for name, value in (*self._hidden.get(path, ()), *pairs):
            data.setdefault(name, [])
            # what is filled in stands in place of what the page held
            if not value.startswith("@"):
                data[name].append(value)
        files = [
            (name, (Path(value[1:]).name, (REPOSITORY / value[1:]).read_bytes()))
            for name, value in pairs
            if value.startswith("@")
        ]
        answer = self._client.request(
            method, path, data={k: v for k, v in data.items() if v}, files=files or None
        )
        # a form that was taken leads on; anything else is a page that says why not
        if answer.status_code != 303:
            self._wrong(cue, f"{method} {path} gave {answer.status_code}: {_text(answer.text)}")
        self._here, self._hidden = answer.headers.get("location", ""), {}
        kept = re.search(r"/recording/([^/?]+)", self._here)
        self._recording = kept[1] if kept else self._recording

    def _on(self, cue: Cue) -> None:
        address = self._here if cue.text == "here" else cue.text
        answer = self._client.get(address)
        if answer.status_code != 200:
            self._wrong(cue, f"{address} gave {answer.status_code}")
        forms = _Forms()
        forms.feed(answer.text)
        self._here, self._hidden, self._words = address, forms.hidden, _text(answer.text)

    def _look(self, cue: Cue) -> None:
        if cue.text not in self._words:
            self._wrong(cue, f"“{cue.text}” does not stand on {self._here}")

    def _picture(self, cue: Cue) -> None:
        name, high, *top = cue.text.split()
        if self._shoot:
            self._shoot(self._here, name, int(high), int(top[0]) if top else 0)
        elif not (PICTURES / name).is_file():
            self._wrong(cue, f"there is no picture {name}: make pictures")


def _text(page: str) -> str:
    """A page as it is read: no tags, one space for any."""
    body = re.sub(r"<(style|script|title)\b.*?</\1>", " ", page, flags=re.DOTALL)
    # what is marked inside a line breaks no word
    body = re.sub(r"</?(b|i|small|span|a)\b[^>]*>", "", body)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", body)).split())


def empty_workshop(folder: Path) -> Workshop:
    """The invented workshop of the demo, before its first machine."""
    from counterpoise.catalog.places import own_folder
    from counterpoise.workshop.demo.play import SETTINGS
    from counterpoise.workshop.services.intake import open_workshop

    where = str(folder / "tour.sqlite3")
    workshop = open_workshop(where, own_folder(None, where))
    workshop.change_settings(SETTINGS)
    return workshop


def main() -> int:
    """Play the tour and print what is wrong with it."""
    import httpx
    from tests.web.browser import served

    from counterpoise.web.app import create_app

    with tempfile.TemporaryDirectory() as folder:
        workshop = empty_workshop(Path(folder))
        with served(create_app(workshop)) as address:
            player = Player(httpx.Client(base_url=address, timeout=600))
            for cue in cues(TOUR.read_text("utf-8")):
                player.play(cue)
    print("\n".join(player.mistakes) or "The tour is true.")
    return bool(player.mistakes)


if __name__ == "__main__":
    sys.exit(main())
