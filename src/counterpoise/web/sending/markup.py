"""A page taken apart into its tags, as far as forms need it."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

# HTML, 13.1.2: elements that have no end tag.
_EMPTY = frozenset({"input", "img", "br", "hr", "link", "meta", "rect", "path", "circle", "line"})


@dataclass(slots=True)
class Piece:
    """A piece of a page as it stands there: a start tag, an end tag, or whatever lies between.

    ``within`` are the places of the start tags around it, outermost first; ``end`` is the place of
    the end tag of a start tag, -1 where it has none.
    """

    raw: str
    tag: str = ""
    closing: bool = False
    attributes: dict[str, str] = field(default_factory=dict)
    within: tuple[int, ...] = ()
    end: int = -1


class _Taker(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.pieces: list[Piece] = []
        self._open: list[int] = []

    def _add(self, piece: Piece) -> None:
        piece.within = tuple(self._open)
        self.pieces.append(piece)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        attributes = {name: value or "" for name, value in attrs}
        self._add(Piece(self.get_starttag_text() or "", tag, attributes=attributes))
        if tag not in _EMPTY:
            self._open.append(len(self.pieces) - 1)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        attributes = {name: value or "" for name, value in attrs}
        self._add(Piece(self.get_starttag_text() or "", tag, attributes=attributes))

    def handle_endtag(self, tag: str) -> None:
        # The pages' own templates are well formed; a stray end tag is left as it is.
        if self._open and self.pieces[self._open[-1]].tag == tag:
            self.pieces[self._open.pop()].end = len(self.pieces)
        self._add(Piece(f"</{tag}>", tag, closing=True))

    def handle_data(self, data: str) -> None:
        self._add(Piece(data))

    def handle_entityref(self, name: str) -> None:
        self._add(Piece(f"&{name};"))

    def handle_charref(self, name: str) -> None:
        self._add(Piece(f"&#{name};"))

    def handle_comment(self, data: str) -> None:
        self._add(Piece(f"<!--{data}-->"))

    def handle_decl(self, decl: str) -> None:
        self._add(Piece(f"<!{decl}>"))


def take_apart(page: str) -> list[Piece]:
    """The pieces of a page, in order; joined they are the page again."""
    taker = _Taker()
    taker.feed(page)
    taker.close()
    return taker.pieces


def words_of(pieces: list[Piece], start: int) -> str:
    """What stands in an element for people to read, as HTML text; small print left out."""
    texts = [
        piece.raw
        for piece in pieces[start + 1 : pieces[start].end]
        if not piece.tag
        and not any(pieces[at].tag in {"small", "option", "textarea"} for at in piece.within)
    ]
    return " ".join("".join(texts).split())
