"""A language as its catalogs say it: texts by what they are in English, and sentences with values.

The records behind the pages stay English, as their JSON twins send them; they are put into the
reader's language where they are shown. English itself needs no catalog.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

SOURCE = "en"
_HOLE = re.compile(r"\{(\w+)\}")
# What a list of texts is put together with, the widest first.
_JOINTS = (" · ", "; ", ", ", ": ")
_LEAST_LETTERS = 3  # a sentence of less than that beside its values would fit anything
_DEEPEST = 4
# A text of ours in quotes, and one with its grade or its chance behind it.
_QUOTED = re.compile(r"[“\"]([^“”\"]+)[”\"]")
_BEHIND = re.compile(r"(.+?) \(([^()]+)\)")
# a text with its amount behind it, or with how many of it before
_AMOUNT = re.compile(r"(\D+?) ((?:over |under )?[−-]?\d[\d.]*(?: (?:%|[A-Z]{3}|m/s2|mm|kg|N))?)")
_TIMES = re.compile(r"(\d+ x )(.+)")
_DATE = re.compile(r"(\d{1,2} )?\b([A-Z][a-z]{2}) (\d{4})((?:, \d\d:\d\d)?)")
# a range of amounts: too short a word to be looked up alone
_REACH = re.compile(r"(?<=\d) to (?=[−\d])")
_DECIMAL = re.compile(r"(?<![\d.])(\d+)\.(\d+)(?!\d|\.\d)")
_SPEED = re.compile(r"(?<=\d) rpm\b")
# where one sentence ends and the next begins
_NEXT = re.compile(r"(?<=[.!?]) (?=[A-Z“\"])")


def folder() -> Traversable:
    """Where the languages lie: a folder each, named by its code (ISO 639-1)."""
    return files("counterpoise.report").joinpath("languages")


@cache
def codes() -> tuple[str, ...]:
    """The languages there are, English first, then by code (ISO 639-1)."""
    # an empty folder is a language that somebody has only begun
    there = sorted(
        entry.name
        for entry in folder().iterdir()
        if entry.is_dir() and any(file.name.endswith(".po") for file in entry.iterdir())
    )
    return (SOURCE, *there)


@cache
def name(code: str) -> str:
    """What a language calls itself: ``de`` gives ``Deutsch``."""
    # from here on the library is loaded: no command that shows no page needs it
    from babel import Locale, UnknownLocaleError

    try:
        return str(Locale.parse(code).get_display_name(code)).capitalize()
    except (ValueError, UnknownLocaleError):  # a code that nobody has a name for
        return code


class Tongue:
    """One language: ``code`` (ISO 639-1) and its ``texts``, English to its own."""

    def __init__(self, code: str, texts: dict[str, str]) -> None:
        self.code, self.texts = code, texts
        self._sentences = [_Sentence(said, text) for said, text in texts.items() if "{" in said]
        # the one that says most of its own goes first: it fits by more than its values
        self._sentences.sort(key=lambda sentence: (-sentence.weight, len(sentence.names)))
        self.say = lru_cache(maxsize=20_000)(self._say)

    def text(self, said: str) -> str:
        """A text of ours, which stands in English, in this language."""
        return self.texts.get(said, said)

    def _say(self, shown: str) -> str:
        """Whatever is shown, as far as the language knows it; the rest stands as it is."""
        # blanks at the ends part it from what stands beside it
        text = shown.strip()
        return shown.replace(text, self._known(text, 0) or self._parts(text, 0)) if text else shown

    def _known(self, shown: str, depth: int) -> str:
        """The text whole, empty where the language has nothing for it."""
        if (text := self.texts.get(shown)) is not None:
            return text
        # a line of several texts is no sentence
        if not shown or depth > _DEEPEST or " · " in shown:
            return ""
        # before sentences with values: theirs would reach over the end of one
        if text := self._paragraph(shown, depth):
            return text
        for sentence in self._sentences:
            # its values may be texts of ours as well
            if values := sentence.values(shown):
                # what a person typed stays, whatever word of ours it may be
                said = {
                    key: value if key.startswith("typed_") else self._value(value, depth)
                    for key, value in values.items()
                }
                return sentence.filled(said)
        # a text that is known begins a sentence here, or stands inside it
        other = shown[0].swapcase() + shown[1:]
        if (text := self.texts.get(other)) is not None:
            return text[0].upper() + text[1:] if shown[0].isupper() else text
        return ""

    def _paragraph(self, shown: str, depth: int) -> str:
        """Sentences one after the other, empty where there is one alone or one is not known."""
        parts = _NEXT.split(shown)
        if len(parts) == 1:
            return ""
        said: list[str] = []
        while parts:
            # a text that is known may be of several sentences: the longest that is counts
            for many in range(len(parts), 0, -1):
                first = " ".join(parts[:many])
                text = self._known(first, depth + 1) if many == 1 else self.texts.get(first, "")
                if text:
                    break
            else:
                return ""
            said.append(text)
            parts = parts[many:]
        return " ".join(said)

    def _value(self, value: str, depth: int) -> str:
        return self._known(value, depth + 1) or self._parts(value, depth + 1)

    def _parts(self, shown: str, depth: int) -> str:
        # a sentence inside a sentence inside a list: deeper no text of ours goes
        if depth <= _DEEPEST:
            if quoted := _QUOTED.fullmatch(shown):
                own = self.text("“{quoted}”")
                return own.replace("{quoted}", self._value(quoted[1], depth))
            if behind := _BEHIND.fullmatch(shown):
                return f"{self._value(behind[1], depth)} ({self._value(behind[2], depth)})"
            if times := _TIMES.fullmatch(shown):
                return times[1] + self._value(times[2], depth)
            if amount := _AMOUNT.fullmatch(shown):
                # "over 99 %" is a text of its own
                much = self.texts.get(amount[2]) or self._figures(amount[2])
                return f"{self._value(amount[1], depth)} {much}"
            for joint in _JOINTS:
                if joint in shown:
                    return joint.join(
                        self._known(part, depth + 1) or self._parts(part, depth + 1)
                        for part in shown.split(joint)
                    )
        return self._figures(shown)

    # last of all: what stands inside a text that is known was put by hand
    def _figures(self, shown: str) -> str:
        """Dates and decimals as the language writes them."""
        shown = _DATE.sub(lambda date: _date(date, self.code), shown)
        shown = _SPEED.sub(f" {self.text('rpm')}", shown)
        shown = _REACH.sub(f" {self.text('to')} ", shown)
        return _DECIMAL.sub(rf"\1{_comma(self.code)}\2", shown)


class _Sentence:
    """A sentence with values: tells whether a text is of its kind, and takes it apart."""

    def __init__(self, said: str, text: str) -> None:
        self.text = text
        # texts and names by turns
        parts = _HOLE.split(said)
        self.names = parts[1::2]
        own = parts[::2]
        self.weight = sum(map(len, own)) if sum(map(str.isalpha, "".join(own))) else 0
        self.longest = max(own, key=len)
        holes = (f"(?P<v{hole}>.+?)" for hole in parts[1::2])
        pieces = [re.escape(own[0])]
        for hole, part in zip(holes, own[1:], strict=True):
            pieces += (hole, re.escape(part))
        self.pattern = re.compile("".join(pieces), re.DOTALL)
        self.fits = sum(map(str.isalpha, "".join(own))) >= _LEAST_LETTERS

    def values(self, shown: str) -> dict[str, str]:
        """Its values (by name) in a text of its kind; empty where it is none."""
        # most texts are no sentence of ours: a search for its longest part is soonest done
        if not self.fits or self.longest not in shown:
            return {}
        match = self.pattern.fullmatch(shown)
        return {hole[1:]: value for hole, value in match.groupdict().items()} if match else {}

    def filled(self, values: dict[str, str]) -> str:
        # by name: another language may turn them round
        return _HOLE.sub(lambda hole: values[hole[1]], self.text)


@cache
def _comma(code: str) -> str:
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(code))


def _date(match: re.Match[str], code: str) -> str:
    import datetime as dt

    from babel.dates import format_date

    try:
        said = f"{match[1] or '1 '}{match[2]} {match[3]}"
        day = dt.datetime.strptime(said, "%d %b %Y")  # noqa: DTZ007
    except ValueError:  # no month of ours
        return match[0]
    form = "medium" if match[1] else "LLL y"  # a month alone stands over a table
    return str(format_date(day.date(), form, locale=code)) + match[4]


@cache
def tongue(code: str) -> Tongue:
    """A language with all its catalogs; English, and what there is not, has none."""
    if code == SOURCE or code not in codes():
        return Tongue(SOURCE, {})
    from babel.messages.pofile import read_po

    texts: dict[str, str] = {}
    for entry in sorted(folder().joinpath(code).iterdir(), key=lambda file: file.name):
        if entry.name.endswith(".po"):
            with entry.open("rb") as file:
                catalog = read_po(file, locale=code)
            texts.update(
                (str(message.id), str(message.string))
                for message in catalog
                # what nobody has looked over does not stand before a step that can hurt
                if message.id and message.string and not message.fuzzy
            )
    return Tongue(code, texts)


def wanted(accepted: str) -> str:
    """The language of ours that a browser asks for first (an Accept-Language header)."""
    asked: list[tuple[float, str]] = []
    for part in accepted[:400].split(","):
        code, _, weight = part.strip().partition(";q=")
        # a weight that is no number is somebody else's mistake: the rest still counts
        try:
            asked.append((-float(weight or 1), code.lower().partition("-")[0]))
        except ValueError:
            continue
    return next(
        (code for _, code in sorted(asked, key=lambda pair: pair[0]) if code in codes()), SOURCE
    )


# The macros of the templates know nothing of the request: what is read in comes this way.
_reader: ContextVar[str] = ContextVar("reader", default=SOURCE)


@contextmanager
def reading(code: str) -> Iterator[None]:
    """All that is shown meanwhile is shown in this language."""
    before = _reader.set(code)
    try:
        yield
    finally:
        _reader.reset(before)


def reader() -> str:
    """The code (ISO 639-1) of the language that is shown just now."""
    return _reader.get()


def known(code: str) -> str:
    """The language where there are texts in it, else empty."""
    return code if code in codes() else ""


def text(said: str) -> str:
    """A text of a template in the language that is shown just now."""
    code = _reader.get()
    return said if code == SOURCE else tongue(code).text(said)


def say(value: object) -> object:
    """A value in the language that is shown just now; what is no plain text as it is."""
    code = _reader.get()
    # markup is our own, or typed by a person and kept out by ``|e``
    if code == SOURCE or type(value) is not str:
        return value
    return tongue(code).say(value)
