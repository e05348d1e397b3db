"""German with every letter of its own written wide: what stands plain on a page was never put.

A text typed by a person is written in Greek here, so that it is no finding either.
"""

import re
from html.parser import HTMLParser

from counterpoise.report.languages import tongue

_WIDE = {
    ord(letter): chr(ord(letter) + 0xFEE0) for letter in map(chr, (*range(65, 91), *range(97, 123)))
}
# tags, entities and values inside a text are the program's own
_KEPT = re.compile(r"(<[^>]*>|&\w+;|%\(\w+\)s|%%|\{\w+\})")
_READ = {"aria-label", "alt", "title", "placeholder"}
_UNREAD = {"style", "script", "textarea"}
_EMPTY = {
    "area",
    "base",
    "br",
    "col",
    "embed",
    "hr",
    "img",
    "input",
    "link",
    "meta",
    "source",
    "wbr",
}
_WORD = re.compile(r"[A-Za-z]{2,}")
# Units, currencies, formats and names of things: the same in both languages.
SAME = frozenset(
    [
        "mm",
        "ohm",
        "Mohm",
        "mA",
        "kW",
        "cm",
        "kg",
        "rpm",
        "EUR",
        "Hz",
        "kHz",
        "min",
        "ml",
        "kB",
        "MB",
        "MiB",
        "PDF",
        "CSV",
        "JSON",
        "ZIP",
        "QR",
        "No",
        "km",
        "Nm",
        "dB",
        "px",
        "PNG",
        "SVG",
    ]
)


def wide(text):
    """A text of a catalog with its own letters wide; tags, entities and values as they are."""
    parts = _KEPT.split(text)
    return "".join(part if at % 2 else part.translate(_WIDE) for at, part in enumerate(parts))


def marked_tongue():
    """The German of the catalogs, every letter wide."""
    texts = tongue.tongue("de").texts
    return tongue.Tongue("de", {said: wide(own) for said, own in texts.items()})


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.texts = [], []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        other = given.get("lang") not in {None, "de"}
        if not self._unread() and not other:
            self.texts += [value for key, value in attrs if key in _READ and value]
            if tag == "input" and given.get("type") in {"submit", "button"}:
                self.texts.append(given.get("value") or "")
        if tag not in _EMPTY:
            self.open.append((tag, other or tag in _UNREAD))

    def handle_endtag(self, tag):
        while self.open and tag in [name for name, _ in self.open]:
            if self.open.pop()[0] == tag:
                break

    def handle_data(self, data):
        if data.strip() and not self._unread():
            self.texts.append(" ".join(data.split()))

    def _unread(self):
        return any(hidden for _, hidden in self.open)


def english(page, same=frozenset()):
    """The texts of a page (HTML or SVG) in which words stand that no catalog put, in order."""
    reader = _Reader()
    reader.feed(page)
    return [
        text
        for text in reader.texts
        if any(word not in SAME and word not in same for word in _WORD.findall(text))
    ]
