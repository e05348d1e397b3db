"""Forms as they come: texts, to be read with care, each field as its type asks."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from typing import Annotated, Any, TypeVar, get_origin

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, ValidationError
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import InputError
from counterpoise.report.words.numbers import read_money, read_number
from counterpoise.workshop.jobs.entries import Body
from counterpoise.workshop.jobs.fields import EntryField, Range, mark_of, sent_fields

Model = TypeVar("Model", bound=BaseModel)
# Long enough for somebody who comes in on Saturdays only.
_HAND_DAYS = 90
# Above every number of ours, and below what a column of a database holds.
_LARGEST_WHOLE = 10**9
# What the pages' own radio buttons send; anything else reads as not answered.
_TRUTHS = {"yes": True, "true": True, "no": False, "false": False}


class Form:
    """A posted form; an absent field reads as an empty text."""

    def __init__(self, data: FormData) -> None:
        self.data = data

    def text(self, name: str) -> str:
        """A field's text without the blanks around it; empty where it is absent or a file."""
        value = self.data.get(name, "")
        # A slip of ten or of the unit is offered as one button; where the box was changed
        # meanwhile, what stands in it goes first.
        if self.data.get("take") and self.data.get("meant_at") == name:
            value = self.data.get("meant", "") if self.data.get("meant_for") == value else value
        # Browsers send line breaks as CRLF whatever was typed (HTML standard); notes are kept
        # with LF.
        return "" if isinstance(value, UploadFile) else value.strip().replace("\r\n", "\n")

    def as_typed(self, name: str) -> str:
        """A field to the letter: blanks around a secret are part of it."""
        value = self.data.get(name, "")
        return "" if isinstance(value, UploadFile) else value

    def texts(self, name: str) -> list[str]:
        """All values of a field that can be ticked more than once; empty ones are left out."""
        return [value for value in self.data.getlist(name) if isinstance(value, str) and value]

    def number(self, name: str, low: float, high: float) -> float | None:
        """A number from ``low`` to ``high``, or None where nothing was typed.

        Raises InputError naming the field.
        """
        return read_number(self.text(name), name, low, high) if self.text(name) else None

    def whole(self, name: str) -> int | None:
        """A whole number, or None where nothing was typed. Raises InputError naming the field."""
        value = self.number(name, 0, _LARGEST_WHOLE)
        # Read as a number first: people type "1,0", and a phone's keypad adds the comma by
        # itself.
        if value is not None and value != int(value):
            raise InputError(
                f"{name}: {value:g} is not a whole number",
                field=name,
                remedy="Give a whole number.",
            )
        return None if value is None else int(value)

    def money(self, name: str, *, negative: bool = False) -> int | None:
        """Minor units, or None where nothing was typed. Raises InputError naming the field."""
        return read_money(self.text(name), name, negative=negative) if self.text(name) else None

    def files(self, name: str) -> list[UploadFile]:
        """The files sent with the form; an empty file field sends a nameless one."""
        return [
            file
            for file in self.data.getlist(name)
            # A form with an empty file field still sends a file, without a name and without
            # bytes.
            if isinstance(file, UploadFile) and file.filename
        ]

    def starting(self, prefix: str) -> dict[str, str]:
        """The answered fields whose names start so, by the rest of the name; no empty ones."""
        names = [name for name in self.data if name.startswith(prefix)]
        # questions nobody answered are no answers
        return {name.removeprefix(prefix): self.text(name) for name in names if self.text(name)}

    def sender(self) -> dict[str, str | int | None]:
        """Who sends it, and the number of the last entry they had seen; None where not said."""
        return {"by": self.text("by"), "expected_last": self.whole("last")}

    def entry(self, record: type[Body], /, **given: object) -> dict[str, Any]:
        """The fields of an entry with who sends it, for :func:`parse`; those ``given`` as they are.

        On a page a sum of money is typed in whole units under the name without ``_minor``, and a
        set of fields as ``feature.drive``. Raises InputError naming the field.
        """
        # what the page knows better, such as the ids of photos it has just kept
        values = dict(given) | self.sender()
        for field in sent_fields(record):
            if field.name not in given:
                value = self._value(field)
                # nothing typed is no value: what the entry says of it holds, or it is missed there
                if value is not None or field.optional or field.required:
                    values[field.name] = value
        return values

    def _value(self, field: EntryField) -> object:
        name, kind, limits = field.name, field.bare, mark_of(field.hint, Range)
        # A page shows and takes whole units; the name without ``_minor`` keeps the two apart, so
        # that 12 is never taken for twelve cents.
        if name.endswith("_minor"):
            # Scrap can cost money to get rid of; a price cannot be below zero.
            below_zero = limits is not None and (limits.low or 0) < 0
            return self.money(name.removesuffix("_minor"), negative=below_zero)
        if kind is bool:
            return _TRUTHS.get(self.text(name))
        if kind is int:
            return self.whole(name)
        if kind is float:
            return self.number(name, *(limits or Range()).span)
        # ticks of one name, in the order of the page
        if get_origin(kind) is tuple:
            return self.texts(name)
        # A mapping such as ``features`` is one field of the form for each key: ``feature.drive``.
        by_name = get_origin(kind) is Mapping
        return self.starting(f"{name.removesuffix('s')}.") if by_name else self.text(name)


async def posted(request: Request) -> AsyncIterator[Form]:
    """The form of a request, its files closed after the answer.

    Raises HTTPException (400) where it cannot be read or has more than 400 fields or 40 files.
    """
    # More than the largest form of ours (a machine's figures, photos); a flood of tiny fields
    # costs time out of proportion to its bytes.
    async with request.form(max_fields=400, max_files=40) as data:
        yield Form(data)


Posted = Annotated[Form, Depends(posted)]


def parse(model: type[Model], /, **fields: Any) -> Model:
    """A model from a form's fields.

    Raises InputError naming the first field at fault.
    """
    try:
        return model(**fields)
    except ValidationError as error:
        # One mistake at a time, at the field it is in: a person corrects them one by one anyway.
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"])
        raise InputError(f"{field}: {first['msg']}", field=field, remedy="Correct it.") from error


def redirect(path: str, by: str = "") -> RedirectResponse:
    """To the next page after a form; remembers who wrote for 90 days.

    Status 303, so that going back and forth does not send the form again.
    """
    # the name is for the next form, not a login: it proves nothing
    answer = RedirectResponse(path, 303)
    if by:
        answer.set_cookie(
            # Strict: the name is for our own forms; a link from elsewhere need not bring it.
            "hand",
            _plain(by),
            max_age=_HAND_DAYS * 86400,
            httponly=True,
            samesite="strict",
        )
    return answer


def _plain(by: str) -> str:
    # a cookie carries plain letters only
    return "".join(
        letter for letter in by if letter.isascii() and (letter.isalnum() or letter in " .-")
    )[:40]
