"""Bodies of entries as JSON and back, by the types of their fields.

An empty field is left out when written. Reading is strict: every mistake is named with its field.
It holds to types and choices only, not to ranges: what an older version stored must still be read.
What is put down now is read by the same readers, with its ranges.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache, partial
from types import NoneType, UnionType
from typing import Annotated, Literal, NoReturn, Union, get_args, get_origin

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import KINDS, Body
from counterpoise.workshop.jobs.fields import Choice, Range, fields_of, mark_of
from counterpoise.workshop.jobs.suggestions import did_you_mean

# longer than anything typed at a bench; a job stays small enough to send
LONGEST = 10_000  # characters of a text that is stored
# what a JSON number of any reader still holds exactly
_MOST = 10**12  # no sum of money or number of an entry is larger
Json = str | int | float | bool | list["Json"] | dict[str, "Json"] | None
Reader = Callable[[object, str], object]


def kind_of(body: Body) -> str:
    """Return the kind under which a body is stored: ``"finding"``, ``"repair"`` ..."""
    return next(kind for kind, record in KINDS.items() if type(body) is record)


def body_to_json(body: Body) -> dict[str, Json]:
    """Return a body as JSON values with its ``kind``; fields at their default are left out."""
    out: dict[str, Json] = {"kind": kind_of(body)}
    for field in fields_of(type(body)):
        value = getattr(body, field.name)
        # what is not said is not written, so that a later version may give it another default
        if field.required or value != field.default:
            out[field.stored_name] = _plain(value)
    return out


def body_from_json(data: object, where: str = "") -> Body:
    """Read a body back. ``where`` is put before the field in messages.

    Raises InputError naming the field.
    """
    if not isinstance(data, Mapping):
        raise InputError(
            f"{where or 'entry'}: a set of fields is expected, not {_sort(data)}", field=where
        )
    kind = data.get("kind")
    # the kind before the fields: their names mean nothing without it
    if not isinstance(kind, str) or kind not in KINDS:
        hint = did_you_mean(str(kind), KINDS)
        raise InputError(
            f"{_path(where, 'kind')}: {kind!r} is no kind of entry",
            field=_path(where, "kind"),
            remedy=hint,
        )
    record: Callable[..., Body] = KINDS[kind]
    known = {field.stored_name: field for field in fields_of(KINDS[kind])}
    # a misspelt field would otherwise be a finding with something left out
    _check_names(data, known, where)
    # every value is checked before what is missing is told: the first mistake in the file first
    values = {
        field.name: reader(field.hint)(data[name], _path(where, name))
        for name, field in known.items()
        if name in data
    }
    missing = [name for name, field in known.items() if field.required and name not in data]
    if missing:
        path = _path(where, missing[0])
        raise InputError(
            f"{path}: is missing", field=path, remedy=f"A {kind} needs {', '.join(missing)}"
        )
    return record(**values)


def as_stored(body: Body, *, limits: bool = False) -> Body:
    """Return a body as it will be read back. Raises InputError naming the field where it cannot be.

    Entries are never changed, so one that cannot be read would spoil its job for good. ``limits``:
    a number outside the range of its field is refused too.
    """
    # most bodies are as they should be, and are kept as they came
    changed: dict[str, object] = {}
    for field in fields_of(type(body)):
        value = getattr(body, field.name)
        read = reader(field.hint, limits)(value, field.stored_name)
        if read is not value:
            changed[field.name] = read
    return replace(body, **changed) if changed else body  # type: ignore[arg-type]  # by its hint


def photo_ids(body: Body) -> tuple[str, ...]:
    """Return the ids of the photos a body refers to; empty where its kind has none."""
    return getattr(body, "photos", ())


def recording_ids(body: Body) -> tuple[str, ...]:
    """Return the ids of the recordings a body refers to; empty where its kind has none."""
    # several kinds of entries can point at a recording, each under the same name
    named: str = getattr(body, "recording", "")
    return (named,) if named else ()


def _path(where: str, name: str) -> str:
    return f"{where}.{name}" if where else name


def _plain(value: object) -> Json:
    if isinstance(value, tuple):
        return list(value)
    return dict(value) if isinstance(value, Mapping) else value  # type: ignore[return-value]


def _check_names(data: Mapping[str, object], known: Mapping[str, object], where: str) -> None:
    for key in data:
        if key not in known and key != "kind":
            path = _path(where, str(key))
            raise InputError(
                f"{path}: is not a field of this entry",
                field=path,
                remedy=did_you_mean(str(key), known),
            )


@cache
def reader(hint: object, limits: bool = False) -> Reader:
    """Return what reads a value of this type, marks and all: ``read(value, path)``.

    It returns the value or raises InputError naming the path; with ``limits`` also for a number
    outside its range.
    """
    # built once for each type and kept, for a list of jobs reads thousands of entries
    plain = _PLAIN.get(hint)
    if plain is not None:
        return plain
    origin, args = get_origin(hint), get_args(hint)
    choice = mark_of(hint, Choice)
    if origin is Annotated:
        # marks can be nested: the choice belongs to the innermost ``Literal``
        if choice and get_origin(args[0]) is Literal:
            return partial(_read_choice, choice, get_args(args[0]))
        # a mark counts for the type it stands at, not for what is inside it
        ranges = tuple(mark for mark in args[1:] if isinstance(mark, Range)) if limits else ()
        read = reader(args[0], limits)
        return partial(_read_within, ranges, read) if ranges else read
    if origin in {Union, UnionType}:
        inner = next(arm for arm in args if arm is not NoneType)
        return partial(_read_optional, reader(inner, limits))
    if origin is tuple:
        return partial(_read_list, reader(args[0], limits))
    # ``Mapping[...]`` as it is declared; what comes is a dict
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return partial(_read_by_name, reader(args[1], limits))
    raise TypeError(f"No field of an entry can be of type {hint}")


def read_text(value: object, path: str) -> str:
    """Return a text that can be stored and shown again. Raises InputError naming the path."""
    if not isinstance(value, str):
        _refuse(path, "a text", value)
    if len(value) > LONGEST:
        raise InputError(
            f"{path}: {len(value)} characters are too many",
            field=path,
            remedy=f"Keep it under {LONGEST}",
        )
    # PostgreSQL stores no NUL, and half a surrogate pair cannot be encoded
    if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
        raise InputError(
            f"{path}: holds characters that cannot be stored", field=path, remedy="Type it anew"
        )
    return value


def _read_number(value: object, path: str) -> float:
    # a bool is an int in Python
    if isinstance(value, bool) or not isinstance(value, int | float):
        _refuse(path, "a number", value)
    if not -_MOST < value < _MOST or not math.isfinite(value):
        raise InputError(f"{path}: {value} is not a number that can be meant", field=path)
    return float(value)


def _read_whole(value: object, path: str) -> int:
    number = _read_number(value, path)
    # JSON knows one kind of number: 3.0 is as whole as 3
    if not number.is_integer():
        raise InputError(
            f"{path}: {value} is not a whole number", field=path, remedy="Money is given in cents"
        )
    return int(number)


def _read_truth(value: object, path: str) -> bool:
    if not isinstance(value, bool):
        _refuse(path, "yes or no", value)
    return value


def _read_choice(choice: Choice, known: tuple[object, ...], value: object, path: str) -> str:
    return choice.check(value, known, path)


def _read_within(ranges: tuple[Range, ...], read: Reader, value: object, path: str) -> object:
    # before the type: what is no number is refused below, a range names the remedy
    if isinstance(value, int | float):
        for bounds in ranges:
            bounds.check(value, path)
    return read(value, path)


def _read_optional(read: Reader, value: object, path: str) -> object:
    return None if value is None else read(value, path)


def _read_list(read: Reader, value: object, path: str) -> tuple[object, ...]:
    if not isinstance(value, list | tuple):
        _refuse(path, "a list", value)
    return tuple(read(item, f"{path}[{index}]") for index, item in enumerate(value))


def _read_by_name(read: Reader, value: object, path: str) -> dict[str, object]:
    if not isinstance(value, Mapping):
        _refuse(path, "a set of fields", value)
    return {read_text(key, path): read(item, f"{path}.{key}") for key, item in value.items()}


_PLAIN: Mapping[object, Reader] = {
    str: read_text,
    bool: _read_truth,
    int: _read_whole,
    float: _read_number,
}


def _refuse(path: str, wanted: str, value: object) -> NoReturn:
    raise InputError(f"{path}: {wanted} is expected, not {_sort(value)}", field=path)


def _sort(value: object) -> str:
    """What a value is, in words."""
    names = {
        bool: "yes or no",
        int: "a number",
        float: "a number",
        str: "a text",
        list: "a list",
        dict: "a set of fields",
    }
    return "nothing" if value is None else names.get(type(value), type(value).__name__)
