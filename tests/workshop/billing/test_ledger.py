"""The ledger of a month, added up by hand."""

import csv
import io
from dataclasses import replace

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP

from counterpoise.errors import InputError
from counterpoise.workshop.billing.ledger import as_csv, ledger
from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.jobs.entries import (
    Closed,
    Entry,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.services.workshop import Workshop

ASK = Finding("ask_when_in_spin", "run_up", minutes=6.0)


def job(number, day, owner, *bodies, title="Veltro 6", paid=0):
    intake = Intake(
        "front_loader", owner, title, ("shakes",), 6.0, {"drive": "belt"}, paid_minor=paid
    )
    return Job(
        number,
        tuple(
            Entry(i, f"{day}T09:00:00Z", "", body) for i, body in enumerate((intake, *bodies), 1)
        ),
    )


MENDED = job(
    1, "2026-03-04", "customer", ASK, RepairDone("replace_belt", 24.0), Proof(True, 12.0),
    Closed("repair_hand_back", ("belt_worn",), 11_000),
)  # fmt: skip
STRIPPED = job(
    2, "2026-03-30", "workshop", ASK, Closed("part_out", (), 5000), title="=1+2", paid=1500
)
OTHER_MONTH = job(3, "2026-04-01", "workshop", ASK, Closed("scrap", (), -1000))
REOPENED = job(4, "2026-03-05", "workshop", ASK, Closed("scrap"), Retraction(3))


def of(month="2026-03"):
    return ledger({"front_loader": FRONT}, SHOP, [OTHER_MONTH, STRIPPED, REOPENED, MENDED], month)


def test_a_month_holds_what_was_closed_in_it_and_stands():
    assert [line.number for line in of().lines] == [1, 2]
    assert [line.number for line in of("2026-04").lines] == [3]
    assert of("2025-01").lines == ()


def test_a_customers_job_by_hand():
    line = of().lines[0]
    belt = FRONT.parts["belt"].price_minor + FRONT.repairs["replace_belt"].consumables_minor
    # the proof spin needs the machine shut: its panels were opened once and closed once
    panels = sum(
        FRONT.access[key].open_min + FRONT.access[key].close_min
        for key in ("rear_panel", "belt_off")
    )
    assert line.bench_minutes == pytest.approx(6 + 24 + 12 + panels)
    assert line.bench_minor == round(line.bench_minutes * 50)
    assert (line.received_minor, line.tax_minor, line.parts_minor) == (11_000, 1000, belt)
    assert line.margin_minor == 11_000 - 1000 - belt - line.bench_minor


def test_its_own_machine_bears_its_price_and_no_tax():
    line = of().lines[1]
    assert (line.tax_minor, line.paid_minor, line.bench_minor, line.margin_minor) == (
        0,
        1500,
        300,
        5000 - 1500 - 300,
    )


def test_the_sums_are_those_of_the_lines():
    found = of()
    for name in (
        "received_minor",
        "tax_minor",
        "parts_minor",
        "paid_minor",
        "bench_minor",
        "margin_minor",
    ):
        assert getattr(found, name) == sum(getattr(line, name) for line in found.lines)


def test_the_table_reads_back_and_no_cell_is_a_formula():
    rows = list(csv.DictReader(io.StringIO(as_csv(of()))))
    assert [row["job"] for row in rows] == ["1", "2"]
    assert rows[0]["received"] == "110.00"
    assert rows[0]["closed"] == "2026-03-04"
    assert rows[1]["title"] == "'=1+2"
    assert round(100 * float(rows[1]["margin"])) == of().lines[1].margin_minor


@pytest.mark.parametrize("month", ["", "2026", "2026-13", "2026-3", "March", "2026-03-01"])
def test_a_month_that_cannot_be(month):
    with pytest.raises(InputError, match="month"):
        of(month)


def test_a_closed_month_stays_as_it_was_when_rates_change(store):
    workshop = Workshop(store, {"front_loader": FRONT})
    workshop.change_settings({"bench_rate_minor": 3000, "tax_percent": 10.0})
    number = workshop.jobs.open(MENDED.intake).number
    for entry in MENDED.entries[1:]:
        workshop.jobs.record(number, entry.body)
    month = workshop.now()[:7]
    before = ledger(workshop.families, workshop.settings(), [workshop.jobs.get(number)], month)
    workshop.change_settings({"bench_rate_minor": 9900, "tax_percent": 25.0})
    dearer = {
        key: replace(part, price_minor=2 * part.price_minor) for key, part in FRONT.parts.items()
    }
    after = ledger(
        {"front_loader": replace(FRONT, parts=dearer)},
        workshop.settings(),
        [workshop.jobs.get(number)],
        month,
    )
    assert after == before
    assert before.lines[0].of_then
    assert (before.tax_minor, before.bench_minor) == (1000, of().lines[0].bench_minor)


def test_without_figures_of_its_own_a_closing_is_reckoned_at_todays_and_says_so():
    assert [line.of_then for line in of().lines] == [False, False]
    assert [row["figures_of"] for row in csv.DictReader(io.StringIO(as_csv(of())))] == [
        "today",
        "today",
    ]


def test_a_machine_that_came_back_keeps_its_takings_and_shows_what_the_guarantee_took():
    first = job(
        5, "2026-03-04", "customer", ASK, RepairDone("replace_belt", 24.0), Proof(True, 12.0),
        Closed("repair_hand_back", (), 11_000),
    ).entries  # fmt: skip
    second = (
        Entry(6, "2026-04-02T09:00:00Z", "", Retraction(5, "slips", comeback=True)),
        Entry(7, "2026-04-02T10:00:00Z", "", RepairDone("replace_pump", 30.0)),
        Entry(8, "2026-04-02T11:00:00Z", "", Proof(True, 10.0)),
        Entry(9, "2026-04-02T12:00:00Z", "", Closed("repair_hand_back", (), 0)),
    )
    back, kept = Job(5, (*first, *second)), Job(5, first)
    march, april = (
        ledger({"front_loader": FRONT}, SHOP, [back], month) for month in ("2026-03", "2026-04")
    )
    assert march == ledger({"front_loader": FRONT}, SHOP, [kept], "2026-03")
    assert march.guarantee_minor == 0 < march.margin_minor
    line = april.lines[0]
    way = [*panels_for(FRONT, FRONT.repairs["replace_pump"].access)]
    panels = sum(FRONT.access[key].open_min + FRONT.access[key].close_min for key in way)
    assert line.bench_minutes == pytest.approx(40 + panels)
    assert (
        line.parts_minor
        == FRONT.parts["drain_pump"].price_minor + FRONT.repairs["replace_pump"].consumables_minor
    )
    assert (
        line.guarantee_minor
        == line.parts_minor + line.bench_minor
        == -line.margin_minor
        == april.guarantee_minor
    )
