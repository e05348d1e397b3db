"""Every text of a template as a message: nothing is marked by hand, so nothing is forgotten.

The texts between tags, and those of attributes that are read out, are looked up in the reader's
language when the page is made; what stands for a value is looked up too. Texts typed by people
are kept out by ``|e``, and whatever is no plain text passes as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from jinja2.ext import Extension
from jinja2.lexer import Token, TokenStream
from markupsafe import Markup

from counterpoise.report.languages import tongue

# Attributes that a reader sees or hears; all others are the program's own.
_READ = re.compile(r"\s(?:aria-label|alt|title|placeholder)=$")
# Marks inside a sentence belong to it: where they stand is the translator's affair.
_INSIDE = re.compile(r"</?(?:b|i|small)>")
# Letters of these are no text of ours.
_RAW = re.compile(r"<(style|script|textarea)\b")
_WORD = re.compile(r"[A-Za-z]{2}")


def message(said: str, **values: object) -> Markup:
    """A text of a template in the reader's language, with its values escaped."""
    return Markup(tongue.text(said)) % values  # noqa: S704  # our own text, or our catalog's


@dataclass
class _Run:
    """A stretch of text with its values: pieces (str), or the tokens (list) of a value."""

    pieces: list[str | list[Token]] = field(default_factory=list)
    line: int = 1


class Marked(Extension):
    """Turns the texts of a template into calls of ``_`` and its values into calls of ``say``."""

    def filter_stream(self, stream: TokenStream) -> Iterable[Token]:
        """The tokens of a template with every text looked up."""
        return _Marker().marked(stream)


class _Marker:
    """Follows the HTML of one template across its tokens: in text, in a tag, in an attribute."""

    def __init__(self) -> None:
        self.place = "text"
        self.raw = ""
        self.run = _Run()

    def marked(self, stream: Iterable[Token]) -> Iterator[Token]:
        tokens = iter(stream)
        for token in tokens:
            if token.type == "data":
                self.run.line = self.run.line if self.run.pieces else token.lineno
                yield from self._data(token)
            elif token.type == "variable_begin":
                value = list(_until(tokens, "variable_end"))
                if self.place in {"text", "read"} and not self.raw:
                    self.run.pieces.append(value)
                else:
                    yield from (token, *value, Token(token.lineno, "variable_end", "}}"))
            elif token.type == "block_begin":
                # a branch or a loop parts a sentence: what stands before it is one message
                yield from self._flush()
                value = list(_until(tokens, "block_end"))
                self._block(value)
                yield from (token, *value, Token(token.lineno, "block_end", "%}"))
            else:
                yield token
        yield from self._flush()

    def _block(self, tokens: list[Token]) -> None:
        # A text that is kept under a name is put together for a machine: an address, a field.
        named = [token.value for token in tokens if token.type == "name"]
        if named[:1] == ["set"] and not any(token.type == "assign" for token in tokens):
            self.raw = "set"
        elif named[:1] == ["endset"]:
            self.raw = ""

    def _data(self, token: Token) -> Iterator[Token]:
        text = token.value
        # a style or a script ends at its own tag only, whatever stands in it
        if self.raw:
            end = text.find(f"</{self.raw}") if self.raw != "set" else -1
            if end < 0:
                yield Token(token.lineno, "data", text)
                return
            yield Token(token.lineno, "data", text[:end])
            text, self.raw = text[end:], ""
        while text:
            if self.place in {"text", "read"}:
                head, text = self._words(text)
                if not text:
                    return
                yield from self._flush()
            head, text = self._tag(text)
            yield Token(token.lineno, "data", head)
            # a script begins right here: the rest of this piece is its own
            if self.raw:
                yield from self._data(Token(token.lineno, "data", text))
                return

    # The end of a run is a tag, or the quote that ends the attribute: then all is put out that was
    # gathered, and the place is another.
    def _words(self, text: str) -> tuple[str, str]:
        """Text up to the tag or quote that ends the run, which is kept; then the rest (str)."""
        end = '"' if self.place == "read" else "<"
        at = 0
        while (at := text.find(end, at)) >= 0:
            inside = _INSIDE.match(text, at) if end == "<" else None
            if not inside:
                break
            at = inside.end()
        cut = len(text) if at < 0 else at
        self.run.pieces.append(text[:cut])
        return text[:cut], text[cut:]

    def _tag(self, text: str) -> tuple[str, str]:
        """(what stands in tags, the rest): up to the next text or attribute that is read."""
        start = 0
        if self.place == "read":
            self.place, start = "tag", 1
        elif self.place == "text":
            self.place = "tag"
            raw = _RAW.match(text)
            self.opened = raw[1] if raw else ""
        # a ">" inside quotes ends no tag
        for at in range(start, len(text)):
            letter = text[at]
            if self.place == "quoted":
                self.place = "tag" if letter == '"' else "quoted"
            elif letter == '"':
                self.place = "read" if _READ.search(text[:at]) else "quoted"
                if self.place == "read":
                    return text[: at + 1], text[at + 1 :]
            elif letter == ">":
                self.place, self.raw = "text", self.opened
                return text[: at + 1], text[at + 1 :]
        return text, ""

    def _flush(self) -> Iterator[Token]:
        """What was gathered, as one message with its values; its outer blanks stay outside."""
        run, self.run = self.run, _Run()
        for part in _balanced(_joined(run.pieces)):
            yield from _message(part, run.line)


def _until(tokens: Iterator[Token], kind: str) -> Iterator[Token]:
    for token in tokens:
        if token.type == kind:
            return
        yield token


def _joined(pieces: list[str | list[Token]]) -> list[str | list[Token]]:
    """The pieces with neighbouring texts as one."""
    joined: list[str | list[Token]] = []
    for piece in pieces:
        if joined and isinstance(piece, str) and isinstance(joined[-1], str):
            joined[-1] += piece
        elif piece:
            joined.append(piece)
    return joined


def _balanced(pieces: list[str | list[Token]]) -> Iterator[list[str | list[Token]]]:
    """The run whole where its inner marks open and close in it, else parted at each of them."""
    text = "".join(piece for piece in pieces if isinstance(piece, str))
    # a mark that a branch of the template opens is closed by another: both stay where they are
    marks: list[str] = []
    for mark in _INSIDE.findall(text):
        if mark.startswith("</") and marks and marks[-1] == mark.replace("/", ""):
            marks.pop()
        else:
            marks.append(mark)
    if not marks:
        yield pieces
        return
    part: list[str | list[Token]] = []
    for piece in pieces:
        if isinstance(piece, list):
            part.append(piece)
            continue
        for bit in re.split(f"({_INSIDE.pattern})", piece):
            if _INSIDE.fullmatch(bit):
                yield part
                yield [bit]
                part = []
            elif bit:
                part.append(bit)
    yield part


def _message(pieces: list[str | list[Token]], line: int) -> Iterator[Token]:
    texts = [piece for piece in pieces if isinstance(piece, str)]
    # figures, units and joints alone are no text; their values may be
    if not _WORD.search(_INSIDE.sub("", re.sub(r"&\w+;", "", " ".join(texts)))):
        for piece in pieces:
            if isinstance(piece, str):
                yield Token(line, "data", piece)
            else:
                yield from _call(line, "say", piece)
        return
    head = tail = ""
    if isinstance(pieces[0], str):
        head = pieces[0][: len(pieces[0]) - len(pieces[0].lstrip())]
        pieces[0] = pieces[0].lstrip()
    if isinstance(pieces[-1], str):
        tail = pieces[-1][len(pieces[-1].rstrip()) :]
        pieces[-1] = pieces[-1].rstrip()
    # blanks at the ends are the template's layout, not the translator's
    text = ""
    values: dict[str, list[Token]] = {}
    for piece in pieces:
        if isinstance(piece, str):
            text += piece.replace("%", "%%")
        else:
            name = _name(piece, values)
            values[name] = piece
            text += f"%({name})s"
    if head:
        yield Token(line, "data", head)
    yield from _call(line, "_", [Token(line, "string", text)], values)
    if tail:
        yield Token(line, "data", tail)


def _name(value: list[Token], taken: Iterable[str]) -> str:
    """What a value is called in the message: the last plain name of where it is from."""
    names: list[str] = []
    for token in value:
        if token.type in {"pipe", "lparen", "lbracket"}:
            break
        if token.type == "name" and token.value not in {"if", "else", "not", "in", "is"}:
            names.append(token.value)
    name = plain = names[-1] if names else "value"
    count = 1
    while name in taken:
        count += 1
        name = f"{plain}{count}"
    return name


def _call(
    line: int, function: str, first: list[Token], values: dict[str, list[Token]] | None = None
) -> Iterator[Token]:
    """``{{ function(first, name=say(value), ...) }}`` as tokens."""
    yield Token(line, "variable_begin", "{{")
    yield from (Token(line, "name", function), Token(line, "lparen", "("), *first)
    for name, value in (values or {}).items():
        yield from (Token(line, "comma", ","), Token(line, "name", name))
        yield from (Token(line, "assign", "="), Token(line, "name", "say"))
        yield from (Token(line, "lparen", "("), *value, Token(line, "rparen", ")"))
    yield Token(line, "rparen", ")")
    yield Token(line, "variable_end", "}}")
