"""Fields of forms as they come: texts, to be read with care."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, ValidationError
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import InputError
from counterpoise.report.words.numbers import read_money, read_number

Model = TypeVar("Model", bound=BaseModel)
_HAND_DAYS = 90


class Form:
    """A posted form; an absent field reads as an empty text."""

    def __init__(self, data: FormData) -> None:
        self.data = data

    def text(self, name: str) -> str:
        """A field's text without the blanks around it."""
        value = self.data.get(name, "")
        return "" if isinstance(value, UploadFile) else value.strip().replace("\r\n", "\n")

    def texts(self, name: str) -> list[str]:
        """All values of a field that can be ticked more than once."""
        return [value for value in self.data.getlist(name) if isinstance(value, str) and value]

    def number(self, name: str, low: float, high: float) -> float | None:
        """A number, or None where nothing was typed."""
        return read_number(self.text(name), name, low, high) if self.text(name) else None

    def whole(self, name: str) -> int | None:
        """A whole number, or None where nothing was typed."""
        value = self.number(name, 0, 10**9)
        if value is not None and value != int(value):
            raise InputError(
                f"{name}: {value:g} is not a whole number",
                field=name,
                remedy="Give a whole number.",
            )
        return None if value is None else int(value)

    def money(self, name: str, *, negative: bool = False) -> int | None:
        """Minor units, or None where nothing was typed."""
        return read_money(self.text(name), name, negative=negative) if self.text(name) else None

    def files(self, name: str) -> list[UploadFile]:
        """The files sent with the form; an empty file field sends a nameless one."""
        return [
            one for one in self.data.getlist(name) if isinstance(one, UploadFile) and one.filename
        ]

    def starting(self, prefix: str) -> dict[str, str]:
        """The answered fields whose names start so, by the rest of the name."""
        names = [name for name in self.data if name.startswith(prefix)]
        return {name.removeprefix(prefix): self.text(name) for name in names if self.text(name)}

    def sender(self) -> dict[str, Any]:
        """Who sends it, and the last entry seen."""
        return {"by": self.text("by"), "expected_last": self.whole("last")}


async def posted(request: Request) -> AsyncIterator[Form]:
    """The form of a request; its files are closed after the answer."""
    async with request.form(max_fields=400, max_files=40) as data:
        yield Form(data)


Posted = Annotated[Form, Depends(posted)]


def made(model: type[Model], /, **fields: Any) -> Model:
    """A body from a form's fields; raises InputError naming the first field at fault."""
    try:
        return model(**fields)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"])
        raise InputError(
            f"{field}: {first['msg']}", field=field, remedy="Go back and correct it."
        ) from error


def onward(path: str, by: str = "") -> RedirectResponse:
    """To the next page; remembers who wrote."""
    answer = RedirectResponse(path, 303)
    if by:
        answer.set_cookie(
            "hand", _plain(by), max_age=_HAND_DAYS * 86400, httponly=True, samesite="strict"
        )
    return answer


def _plain(by: str) -> str:
    """A cookie carries plain letters only."""
    return "".join(
        letter for letter in by if letter.isascii() and (letter.isalnum() or letter in " .-")
    )[:40]
