"""Bodies of entries as JSON and back. Reading is strict: every mistake is named with its field.

An empty field is left out when written. Texts are limited to ``LONGEST`` characters.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields
from typing import Any, get_args

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import KINDS, Body, How
from counterpoise.workshop.jobs.suggestions import did_you_mean

LONGEST = 10_000
_MOST = 10**12  # no sum of money or number of an entry is larger


def kind_of(body: Body) -> str:
    """Return the kind under which a body is stored: ``"finding"``, ``"repair"`` ..."""
    return next(kind for kind, made in KINDS.items() if type(body) is made)


def body_to_json(body: Body) -> dict[str, Any]:
    """Return a body as plain JSON values with its ``kind``; fields at their default are left out."""
    out: dict[str, Any] = {"kind": kind_of(body)}
    for part in fields(body):
        value = getattr(body, part.name)
        if _required(part) or value != _default(part):
            out[part.name] = _plain(value)
    return out


def body_from_json(data: object, where: str = "") -> Body:
    """Read a body back. ``where`` is put before the field in messages. Raises InputError naming the field."""
    if not isinstance(data, Mapping):
        raise InputError(
            f"{where or 'entry'}: a set of fields is expected, not {_sort(data)}", field=where
        )
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        hint = did_you_mean(str(kind), KINDS)
        raise InputError(
            f"{_path(where, 'kind')}: {kind!r} is no kind of entry",
            field=_path(where, "kind"),
            remedy=hint,
        )
    made = KINDS[kind]
    _no_strangers(made, data, where)
    values = {
        part.name: _read(part, data[part.name], _path(where, part.name))
        for part in fields(made)
        if part.name in data
    }
    missing = [part.name for part in fields(made) if _required(part) and part.name not in values]
    if missing:
        path = _path(where, missing[0])
        raise InputError(
            f"{path}: is missing", field=path, remedy=f"A {kind} needs {', '.join(missing)}"
        )
    return made(**values)


def _path(where: str, name: str) -> str:
    return f"{where}.{name}" if where else name


def _required(part: Field[Any]) -> bool:
    return part.default is MISSING and part.default_factory is MISSING


def _default(part: Field[Any]) -> Any:
    return part.default_factory() if part.default_factory is not MISSING else part.default


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return list(value)
    return dict(value) if isinstance(value, Mapping) else value


def _no_strangers(made: type[Body], data: Mapping[str, Any], where: str) -> None:
    names = [part.name for part in fields(made)]
    for key in data:
        if key not in (*names, "kind"):
            path = _path(where, str(key))
            raise InputError(
                f"{path}: is not a field of this entry",
                field=path,
                remedy=did_you_mean(str(key), names),
            )


def _read(part: Field[Any], value: object, path: str) -> Any:
    return _READERS[str(part.type)](value, path)


def _sort(value: object) -> str:
    names = {
        bool: "yes or no",
        int: "a number",
        float: "a number",
        str: "a text",
        list: "a list",
        dict: "a set of fields",
    }
    return "nothing" if value is None else names.get(type(value), type(value).__name__)


def _wrong(path: str, wanted: str, value: object) -> InputError:
    return InputError(f"{path}: {wanted} is expected, not {_sort(value)}", field=path)


def read_text(value: object, path: str) -> str:
    """Read a text that can be stored and shown again."""
    if not isinstance(value, str):
        raise _wrong(path, "a text", value)
    if len(value) > LONGEST:
        raise InputError(
            f"{path}: {len(value)} characters are too many",
            field=path,
            remedy=f"Keep it under {LONGEST}",
        )
    if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
        raise InputError(
            f"{path}: holds characters that cannot be stored", field=path, remedy="Type it anew"
        )
    return value


def _number(value: object, path: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _wrong(path, "a number", value)
    if not -_MOST < value < _MOST or not math.isfinite(value):
        raise InputError(f"{path}: {value} is not a number that can be meant", field=path)
    return float(value)


def _whole(value: object, path: str) -> int:
    if _number(value, path) != int(value):  # type: ignore[call-overload]  # _number let only numbers pass
        raise InputError(
            f"{path}: {value} is not a whole number", field=path, remedy="Money is given in cents"
        )
    return int(value)  # type: ignore[call-overload, no-any-return]  # as above


def _truth(value: object, path: str) -> bool:
    if not isinstance(value, bool):
        raise _wrong(path, "yes or no", value)
    return value


def _owner(value: object, path: str) -> str:
    if value not in ("customer", "workshop"):
        raise InputError(
            f"{path}: {value!r} is no owner", field=path, remedy='Give "customer" or "workshop"'
        )
    return str(value)


def _how(value: object, path: str) -> str:
    known = get_args(How)
    if value not in known:
        raise InputError(
            f"{path}: {value!r} is no way to know it",
            field=path,
            remedy=f"One of {', '.join(known)}",
        )
    return str(value)


def _maybe(read: Callable[[object, str], Any]) -> Callable[[object, str], Any]:
    return lambda value, path: None if value is None else read(value, path)


def _each(read: Callable[[object, str], Any]) -> Callable[[object, str], tuple[Any, ...]]:
    def several(value: object, path: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise _wrong(path, "a list", value)
        return tuple(read(one, f"{path}[{index}]") for index, one in enumerate(value))

    return several


def _texts_by_name(value: object, path: str) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise _wrong(path, "a set of fields", value)
    return {read_text(key, path): read_text(one, f"{path}.{key}") for key, one in value.items()}


def _numbers_by_name(value: object, path: str) -> dict[str, float]:
    if not isinstance(value, Mapping):
        raise _wrong(path, "a set of fields", value)
    return {read_text(key, path): _number(one, f"{path}.{key}") for key, one in value.items()}


_READERS: dict[str, Callable[[object, str], Any]] = {  # by the type as written in evidence.py
    "str": read_text,
    "bool": _truth,
    "int": _whole,
    "Owner": _owner,
    "How": _how,
    "int | None": _maybe(_whole),
    "float | None": _maybe(_number),
    "tuple[str, ...]": _each(read_text),
    "tuple[float, ...]": _each(_number),
    "Mapping[str, str]": _texts_by_name,
    "Mapping[str, float]": _numbers_by_name,
}
