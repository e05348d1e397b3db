"""The border of a family file for its drawing: places, and the shapes they are made of.

Lengths are in units of the drawing, about a pixel of a small phone each.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from counterpoise.catalog.drawing import MACHINE_WIDE, SHAPES, bounds
from counterpoise.catalog.schema.messages import Entry, Text, Word, mistake, refuse
from counterpoise.catalog.schema.references import Needs, Sourced

# more is no sketch any more, and a page must stay light
MOST_PLACES, MOST_SHAPES, MOST_NUMBERS = 60, 40, 80
Numbers = Annotated[list[float], Field(max_length=MOST_NUMBERS)]
Look = Literal["plain", "shade", "bare", "solid", "heavy", "thin", "hidden", "holes", "ground"]


class ShapeModel(Entry):
    """A shape by its kind: ``rect`` [x, y, wide, high], ``circle`` [x, y, radius], the others x, y.

    ``spring`` and ``damper`` go from one end to the other; ``line`` is open, ``area`` closed,
    ``curve`` a smooth line through its points.
    """

    rect: Numbers | None = None
    circle: Numbers | None = None
    line: Numbers | None = None
    area: Numbers | None = None
    curve: Numbers | None = None
    spring: Numbers | None = None
    damper: Numbers | None = None
    look: Look = "plain"
    needs: Needs = Field(default_factory=dict)

    @property
    def kind(self) -> str:
        """The name of its shape."""
        return next(name for name in SHAPES if getattr(self, name) is not None)

    @property
    def numbers(self) -> list[float]:
        """The lengths that its shape takes."""
        numbers: list[float] = getattr(self, self.kind)
        return numbers

    @model_validator(mode="after")
    def _one_shape(self) -> ShapeModel:
        # counted here, as each kind is a key of its own
        given = [name for name in SHAPES if getattr(self, name) is not None]
        if len(given) != 1:
            said = " and ".join(given) or "none"
            raise mistake(f"a shape is one thing, not {said}", f"give one of {', '.join(SHAPES)}")
        count, takes = len(self.numbers), SHAPES[given[0]]
        if takes > 0 and count != takes:
            raise mistake(
                f"{given[0]} has {count} numbers", f"give {takes}, as docs/drawings.md shows"
            )
        if takes < 0 and (count < -takes or count % 2):
            raise mistake(
                f"{given[0]} has {count} numbers", f"give x and y of {-takes // 2} points or more"
            )
        return self


class PlaceModel(Entry):
    """A place: its words, its shapes, where its mark stands (x, y), whether it opens or comes off.

    ``at`` left empty is the middle of its shapes.
    """

    title: Text
    shapes: Annotated[list[ShapeModel], Field(min_length=1, max_length=MOST_SHAPES)]
    at: Annotated[list[float], Field(max_length=2)] = Field(default_factory=list)
    panel: bool = False

    @field_validator("at", mode="after")
    @classmethod
    def _both(cls, at: list[float]) -> list[float]:
        if len(at) == 1:
            raise mistake("at has one number", "give x and y, or leave it out")
        return at


class DrawingModel(Sourced):
    """The machine cut open, ``high`` units of the drawing; places from the rear to the front."""

    # what is read out where it cannot be seen
    title: Text
    # wide is always the same, so that labels have their room
    high: Annotated[float, Field(ge=80, le=400)]
    places: Annotated[dict[Word, PlaceModel], Field(min_length=1, max_length=MOST_PLACES)]

    @field_validator("places", mode="after")
    @classmethod
    def _inside(cls, places: dict[str, PlaceModel], info: ValidationInfo) -> dict[str, PlaceModel]:
        # None where it is wrong itself, and told already
        high = info.data.get("high")
        refuse(
            (
                (name, "shapes", number),
                shape.numbers,
                mistake(
                    f"it lies outside of 0..{MACHINE_WIDE} by 0..{high:g}",
                    "x goes to the right, y down from the top",
                ),
            )
            for name, place in places.items()
            for number, shape in enumerate(place.shapes)
            if high is not None and not _fits(shape, high)
        )
        return places


def _fits(shape: ShapeModel, high: float) -> bool:
    x0, y0, x1, y1 = bounds(shape.kind, shape.numbers)
    return x0 >= 0 and y0 >= 0 and x1 <= MACHINE_WIDE and y1 <= high
