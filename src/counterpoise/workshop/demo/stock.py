"""What lies on the shelf of the invented workshop, and a supplier's list; everything invented."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from counterpoise.money.order import Quality
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.parts.price_list import PriceLine
from counterpoise.workshop.parts.stock import Receipt

if TYPE_CHECKING:
    from counterpoise.workshop.store.store import Store

SUPPLIER, LIST = "Ashlar Parts", "ashlar-spring.csv"
_KIND, _BY = "front_loader", "Odo"
_DONOR = "Taldera T6"  # left with the workshop when it was not worth mending
# Part, kind, price of one in cents, days until it comes. Some dearer than the catalog's figure,
# some cheaper, one part twice: new, and to pattern.
_PRICES: tuple[tuple[str, Quality, int, int], ...] = (
    ("drain_pump", "new", 3650, 2),
    ("drain_pump", "pattern", 2700, 2),
    ("damper_set", "new", 4480, 2),
    ("belt", "new", 1590, 1),
    ("brush_pair", "pattern", 990, 1),
    ("drum_support", "new", 11900, 6),
    ("bearing_kit", "new", 4050, 3),
    ("door_lock", "new", 2950, 2),
    ("control_board", "new", 15200, 8),
)


def fill(store: Store, jobs: Iterable[Job]) -> None:
    """Take the supplier's list in, and put the pieces on the shelf; prices are in minor units."""
    # From line 2: the first line of a list names its columns.
    lines = [
        PriceLine(row, _KIND, part, kind, cents, 1, days, number=f"AP-{100 + row}")
        for row, (part, kind, cents, days) in enumerate(_PRICES, 2)
    ]
    store.prices.add(SUPPLIER, LIST, lines, _BY)
    # By its title: the numbers depend on what else the book holds.
    donor = next((job.number for job in jobs if job.intake.title.startswith(_DONOR)), None)
    store.stock.receive(
        [
            # How likely each is good: what the findings on the donor left of doubt about it.
            _off(donor, "belt_motor", "C1", 0.95),
            _off(donor, "door_lock", "B2", 0.97),
            _off(donor, "door", "C3", 0.99),
            Receipt(
                _KIND,
                "drain_pump",
                "used",
                1,
                "B2",
                maker="Osmarin",
                model="S6",
                note="from a clearance",
            ),
            # Bought ahead at the list's price: what every second job takes.
            Receipt(_KIND, "damper_set", "new", 2, "A1", cost_minor=4480),
            Receipt(_KIND, "belt", "new", 3, "A2", cost_minor=1590),
        ],
        _BY,
    )


def _off(donor: int | None, item: str, place: str, good: float) -> Receipt:
    return Receipt(
        _KIND, item, "used", 1, place, maker="Taldera", model="T6", donor=donor, good=good
    )
