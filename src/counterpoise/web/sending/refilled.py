"""A form that was refused, shown again: what was typed still there, what is wrong at its field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from counterpoise.errors import InputError, ReadingError
from counterpoise.web.form_marks import KEY, SHOWN_AT
from counterpoise.web.sending.markup import Piece, take_apart, words_of

# What a person ticks or chooses: the words of the group stand over it, not beside it.
_TICKED = frozenset({"checkbox", "radio"})
# The form on the page that comes back has these of its own.
_OWN = frozenset({KEY, SHOWN_AT, "last"})
_CONTROLS = frozenset({"input", "select", "textarea"})
# Before a page came back with its form, whoever was refused had to go back to it.


@dataclass(frozen=True, slots=True)
class _Fault:
    """What is said of a fault: the sentence, and what to do; both as HTML."""

    what: str
    remedy: str

    @property
    def text(self) -> str:
        return " ".join(part for part in (self.what, self.remedy) if part)


def refilled(
    page: str, action: str, sent: Mapping[str, Sequence[str]], error: InputError
) -> str | None:
    """The page with the form of an address filled in as it was sent, and what is wrong with it.

    ``sent`` are the texts sent, by name. None where the page has no form of that address.
    """
    pieces = take_apart(page)
    form = _form(pieces, action, sent)
    if form is None:
        return None
    inside = range(form + 1, pieces[form].end)
    control = _at_fault(pieces, inside, error.field)
    # Before anything is filled in: the words of a label are not those of its field.
    label = _label(pieces, control) if control is not None else ""
    for at in inside:
        _fill(pieces, at, sent)
    name = pieces[control].attributes["name"] if control is not None else ""
    fault = _fault_words(error, next(iter(sent.get(name, ())), ""))
    if control is not None:
        _mark(pieces, control, fault, _meant(error, name, sent))
    _say_on_top(pieces, fault, label)
    return "".join(piece.raw for piece in pieces)


def _form(pieces: list[Piece], action: str, sent: Mapping[str, Sequence[str]]) -> int | None:
    """The place of the form: of several of one address the one with the most of the same in it."""
    forms = [
        at
        for at, piece in enumerate(pieces)
        if piece.tag == "form" and piece.attributes.get("action", "").split("?")[0] == action
    ]

    def alike(form: int) -> int:
        hidden = [
            each.attributes
            for each in pieces[form + 1 : pieces[form].end]
            if each.attributes.get("type") == "hidden"
        ]
        return sum(
            each.get("value") in sent.get(each["name"], ())
            for each in hidden
            if each.get("name") not in {*_OWN, None}
        )

    return max(forms, key=alike, default=None)


def _names(field: str) -> Iterator[str]:
    """The names under which a field of an entry may stand on a page, the likeliest first."""
    head, _, rest = field.partition(".")
    plain = field.removesuffix("_minor")
    yield from (field, plain)
    if rest:
        # One field of the form for each key of a set: features.drive stands as feature.drive.
        yield f"{head.removesuffix('s')}.{rest}"
    yield from (f"figure.{field}", f"m.{field}", f"check.{field}", f"column.{field}")
    yield from (head, head.removesuffix("s"))


def _at_fault(pieces: list[Piece], inside: range, field: str) -> int | None:
    """The place of the first control of a field that can be seen; None where there is none."""
    boxes: dict[str, int] = {}
    for at in inside:
        piece = pieces[at]
        shown = piece.attributes.get("type") != "hidden" and not piece.closing
        if piece.tag in _CONTROLS and shown:
            boxes.setdefault(piece.attributes.get("name", ""), at)
    for name in _names(field) if field else ():
        # Of a row of boxes the first: gaps stands as gaps.0, gaps.1 ...
        matching = [at for each, at in boxes.items() if each == name or each.startswith(f"{name}.")]
        if matching:
            return matching[0]
    return None


def _around(pieces: list[Piece], at: int, tag: str) -> int | None:
    """The place of the nearest element of a kind around a piece."""
    return next((each for each in reversed(pieces[at].within) if pieces[each].tag == tag), None)


def _legend(pieces: list[Piece], at: int) -> int | None:
    """The legend over a tick, None where it stands in no group."""
    group = _around(pieces, at, "fieldset")
    if group is None or pieces[at].attributes.get("type") not in _TICKED:
        return None
    return next((each for each in range(group, at) if pieces[each].tag == "legend"), None)


def _label(pieces: list[Piece], control: int) -> str:
    place = _legend(pieces, control) or _around(pieces, control, "label")
    return words_of(pieces, place) if place is not None else ""


def _fill(pieces: list[Piece], at: int, sent: Mapping[str, Sequence[str]]) -> None:
    """Put what was sent into one control."""
    piece = pieces[at]
    attributes, name = piece.attributes, piece.attributes.get("name", "")
    if piece.closing or name in _OWN:
        return
    if piece.tag == "input":
        kind = attributes.get("type", "text")
        if kind in _TICKED:
            # What was not ticked is not sent; of a choice always one is.
            if name in sent or kind == "checkbox":
                _set(
                    piece, "checked", "" if attributes.get("value") in sent.get(name, ()) else None
                )
        elif kind not in {"hidden", "file"} and name in sent:
            _set(piece, "value", sent[name][0])
    elif piece.tag == "option":
        select = _around(pieces, at, "select")
        name = pieces[select].attributes.get("name", "") if select is not None else ""
        if name in sent:
            _set(piece, "selected", "" if attributes.get("value") in sent[name] else None)
    elif piece.tag == "textarea" and name in sent:
        for inner in pieces[at + 1 : piece.end]:
            inner.raw = ""
        piece.raw += escape(sent[name][0])


def _set(piece: Piece, name: str, value: str | None) -> None:
    """Give a start tag an attribute, or take it away."""
    piece.attributes.pop(name, None)
    if value is not None:
        piece.attributes[name] = value
    words = (
        f' {key}="{escape(text)}"' if text else f" {key}" for key, text in piece.attributes.items()
    )
    piece.raw = f"<{piece.tag}{''.join(words)}>"


def _fault_words(error: InputError, typed: str) -> _Fault:
    # The name in front is the program's own; on a page the label stands there.
    what = error.message.removeprefix(f"{error.field}: ") if error.field else error.message
    if typed and what.startswith(f"{typed} "):
        # What was typed is shown as it was typed, not as the start of a sentence.
        what = f"\N{LEFT DOUBLE QUOTATION MARK}{typed}\N{RIGHT DOUBLE QUOTATION MARK}" + (
            what.removeprefix(typed)
        )
    return _Fault(_sentence(what), _sentence(error.remedy))


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{escape(text[:1].upper() + text[1:])}." if text else ""


def _meant(error: InputError, name: str, sent: Mapping[str, Sequence[str]]) -> str:
    """A button that takes what was probably meant, empty where nothing suggests itself."""
    meant = error.meant if isinstance(error, ReadingError) else None
    if meant is None or not sent.get(name):
        return ""
    hidden = {"meant_at": name, "meant_for": sent[name][0], "meant": f"{meant:g}"}
    fields = "".join(
        f'<input type="hidden" name="{key}" value="{escape(text)}">' for key, text in hidden.items()
    )
    button = f'<button class="choice" name="take" value="yes">Yes, {meant:g}</button>'
    return fields + button


def _mark(pieces: list[Piece], control: int, fault: _Fault, meant: str) -> None:
    """Say at a control what is wrong with it, and open what it is folded away in."""
    _set(pieces[control], "aria-invalid", "true")
    _set(pieces[control], "aria-describedby", "wrong")
    words = f'<div class="wrong" id="wrong"><p>{fault.text}</p>{meant}</div>'
    # Under the question of a group, else under the label that holds the field.
    place = _legend(pieces, control)
    if place is None:
        place = _around(pieces, control, "label")
    end = pieces[place].end if place is not None else control
    pieces[end].raw += words
    for around in pieces[control].within:
        if pieces[around].tag == "details":
            _set(pieces[around], "open", "")


def _say_on_top(pieces: list[Piece], fault: _Fault, label: str) -> None:
    """Say over all that nothing was saved, and lead to the field."""
    where = f'<a class="way" href="#wrong">{label.rstrip("?: ")}</a>: ' if label else ""
    words = f"<p><b>Not saved yet.</b> {where}{fault.what if label else fault.text}</p>"
    main = next((piece for piece in pieces if piece.tag == "main"), pieces[0])
    main.raw += f'<div class="warning" role="alert">{words}</div>'
