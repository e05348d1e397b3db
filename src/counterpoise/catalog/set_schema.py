"""The border of a family file for sets: what condemns one whole, and what spares it."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from counterpoise.catalog.messages import Amount, Text, Word, as_text, mistake
from counterpoise.catalog.references import FaultKey, Needs, PartId, Sourced, name_of

CheckId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("checks", "check"))]
RepairId = Annotated[str, BeforeValidator(as_text), AfterValidator(name_of("repairs", "repair"))]
# check -> outcomes of it; that the outcomes exist is seen where the file is looked at as a whole
Shown = dict[CheckId, Annotated[list[Word], Field(min_length=1)]]


class SetModel(Sourced):
    """A set of parts: ``worn`` fault keys mean the whole, ``alone`` repairs renew one piece."""

    title: Text
    parts: Annotated[list[PartId], Field(min_length=1)]
    # a set that nothing wears needs no rule
    worn: Annotated[list[FaultKey], Field(min_length=1)]
    renew: Annotated[list[RepairId], Field(min_length=1)]
    put_back: list[RepairId] = Field(default_factory=list)
    alone: list[RepairId] = Field(default_factory=list)
    try_it: str = ""
    condemns: Shown = Field(default_factory=dict)
    others_good: Shown = Field(default_factory=dict)
    several: Shown = Field(default_factory=dict)
    young_years: Amount = 0.0
    needs: Needs = Field(default_factory=dict)

    @field_validator("alone", mode="after")
    @classmethod
    def _once(cls, alone: list[str], info: ValidationInfo) -> list[str]:
        others = {*info.data.get("renew", []), *info.data.get("put_back", [])}
        both = sorted(others & set(alone))
        if both:
            raise mistake(
                f"{', '.join(both)} renews one piece and does something else as well",
                "name a repair once: it renews the set, puts a piece back, or renews one piece",
            )
        return alone

    @field_validator("try_it", mode="after")
    @classmethod
    def _tried(cls, text: str, info: ValidationInfo) -> str:
        # a piece that goes back untried may be the one that lost its grip
        if info.data.get("put_back") and not text.strip():
            raise mistake(
                "a piece may go back, but not how it is tried",
                "say in try_it what is done before and after",
            )
        return text
