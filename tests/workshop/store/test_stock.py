"""The shelf in the store: movements that add up, reservations that exclude each other, undoing by the opposite."""

import sqlite3
import subprocess
import sys
from dataclasses import replace
from itertools import count as counting

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.workshop.price_files import FAMILIES

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.money.shelf import FOR_A_JOB
from counterpoise.workshop.jobs.entries import Closed, Intake, RepairDone, Retraction
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

PUMP = Receipt("front_loader", "drain_pump", "used", 3, "B2", maker="Taldera")
INTAKE = Intake(
    "front_loader", "workshop", "Taldera T8", ("shakes",), 6.0, {"drive": "belt"}, "Taldera", "T8"
)


@pytest.fixture
def workshop(store):
    made = Workshop(store, FAMILIES)
    for _ in range(2):
        made.jobs.open(INTAKE, "ada")
    return made


@pytest.fixture
def lot(workshop):
    return workshop.stock.receive(PUMP, "ada")


def test_what_came_in_lies_there(workshop, lot):
    (item,) = workshop.stock.items()
    assert (item.title, item.pieces, item.free, item.places, item.kinds) == (
        "Drain pump",
        3,
        3,
        ("B2",),
        ("used",),
    )
    assert (lot.pieces, lot.place, lot.cost_minor, lot.held, lot.used) == (3, "B2", 0, (), ())
    assert [m.kind for m in workshop.stock.item("front_loader", "drain_pump").movements] == [
        "received"
    ]


def test_the_same_piece_is_not_reserved_twice(workshop, lot):
    workshop.stock.move(Move(lot.number, "reserved", 2, 1), "ada")
    with pytest.raises(InputError, match="3 on the shelf, 2 reserved for job 1"):
        workshop.stock.move(Move(lot.number, "reserved", 2, 2), "bo")
    after = workshop.stock.move(Move(lot.number, "reserved", 1, 2), "bo")
    assert (after.free, after.held) == (0, ((1, 2), (2, 1)))
    with pytest.raises(InputError):
        workshop.stock.move(Move(lot.number, "written_off", 1), "bo")


def test_a_repair_takes_pieces_with_its_entry_and_gives_them_back_with_its_retraction(
    workshop, lot
):
    workshop.stock.move(Move(lot.number, "reserved", 1, 1), "ada")
    entry = workshop.jobs.record(1, RepairDone("replace_pump"), "ada", taken=[(lot.number, 1)])
    after = workshop.stock.book().lot(lot.number)
    assert (after.pieces, after.held, after.used) == (2, (), ((1, 1),))
    workshop.jobs.record(1, Retraction(entry.number), "ada")
    after = workshop.stock.book().lot(lot.number)
    assert (after.pieces, after.held, after.used) == (3, ((1, 1),), ())


def test_a_repair_is_not_put_down_where_the_pieces_are_not_there(workshop, lot):
    workshop.stock.move(Move(lot.number, "reserved", 3, 2), "ada")
    with pytest.raises(InputError, match="3 reserved for job 2"):
        workshop.jobs.record(1, RepairDone("replace_pump"), "ada", taken=[(lot.number, 1)])
    assert len(workshop.jobs.get(1).entries) == 1
    assert workshop.stock.book().lot(lot.number).pieces == 3


def test_closing_a_job_lets_go_of_what_is_still_reserved(workshop, lot):
    workshop.stock.move(Move(lot.number, "reserved", 2, 1), "ada")
    workshop.stock.move(Move(lot.number, "reserved", 1, 2), "ada")
    workshop.jobs.record(1, Closed("scrap"), "ada")
    assert workshop.stock.book().lot(lot.number).held == ((2, 1),)
    with pytest.raises(InputError, match="1 is closed"):
        workshop.stock.move(Move(lot.number, "reserved", 1, 1), "ada")


def test_a_movement_is_undone_once_by_its_opposite(workshop, lot):
    workshop.stock.move(Move(lot.number, "written_off", 2, note="cracked"), "ada")
    number = workshop.stock.movements([lot.number])[0].number
    assert workshop.stock.undo(number, "bo").pieces == 3
    told = workshop.stock.movements([lot.number])
    assert [(m.kind, m.pieces, m.undone, m.undoes) for m in told] == [
        ("undone", 2, False, number), ("written_off", -2, True, None), ("received", 3, False, None),
    ]  # fmt: skip
    with pytest.raises(InputError, match="undone already"):
        workshop.stock.undo(number, "bo")
    with pytest.raises(InputError, match="an undoing itself"):
        workshop.stock.undo(told[0].number, "bo")
    with pytest.raises(NotFoundError):
        workshop.stock.undo(999, "bo")


def test_what_is_gone_cannot_be_undone_away(workshop, lot):
    workshop.stock.move(Move(lot.number, "used", 1, 1), "ada")
    received = workshop.stock.movements([lot.number])[-1].number
    with pytest.raises(InputError, match="not so many pieces"):
        workshop.stock.undo(received, "ada")


def test_a_count_on_a_stale_page_is_refused(workshop, lot):
    workshop.stock.move(Move(lot.number, "used", 1, 1), "bo")
    with pytest.raises(ConflictError):
        workshop.stock.move(Move(lot.number, "counted", 3), "ada", expected_last=lot.last)
    assert workshop.stock.move(Move(lot.number, "counted", 2), "ada").pieces == 2


def test_pieces_that_were_moved_lie_elsewhere_and_go_back(workshop, lot):
    assert workshop.stock.move(Move(lot.number, "moved", place="C4"), "ada").place == "C4"
    assert (
        workshop.stock.undo(workshop.stock.movements([lot.number])[0].number, "ada").place == "B2"
    )
    with pytest.raises(InputError, match="place"):
        workshop.stock.move(Move(lot.number, "moved", place=" "), "ada")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"family": "fridge"}, "family"), ({"item": "drain_pmup"}, "item"), ({"count": 0}, "count"),
        ({"count": 5000}, "count"), ({"kind": "old"}, "kind"), ({"cost_minor": -1}, "cost_minor"),
        ({"asked_minor": -1}, "asked_minor"), ({"place": "x" * 81}, "place"), ({"maker": "a\x07"}, "maker"),
        ({"good": float("nan")}, "good"),
    ],
)  # fmt: skip
def test_what_cannot_be_received(workshop, wrong, field):
    with pytest.raises(InputError) as told:
        workshop.stock.receive(replace(PUMP, **wrong), "ada")
    assert told.value.field == field
    assert workshop.stock.items() == ()


def test_a_donor_lot_or_job_that_does_not_exist_is_said(workshop):
    with pytest.raises(NotFoundError, match="no job 77"):
        workshop.stock.receive(replace(PUMP, donor=77), "ada")
    for told in (Move(9, "counted", 1), Move(2**40, "counted", 1)):
        with pytest.raises(NotFoundError, match="no lot"):
            workshop.stock.move(told, "ada")
    number = workshop.stock.receive(PUMP, "ada").number
    with pytest.raises(NotFoundError, match="no job 77"):
        workshop.stock.move(Move(number, "reserved", 1, 77), "ada")
    with pytest.raises(InputError, match="otherwise"):
        workshop.stock.move(Move(number, "received", 1), "ada")
    with pytest.raises(NotFoundError):
        workshop.stock.item("front_loader", "nothing")


def test_pieces_off_a_machine_are_put_on_the_shelf_with_what_is_believed_of_them(workshop):
    lots = workshop.stock.put_on_shelf(1, {"drain_pump": 1, "foot": 4, "door": 1}, "B2", "ada")
    pump = lots[0]
    assert (pump.kind, pump.donor, pump.maker, pump.model, pump.cost_minor) == (
        "used",
        1,
        "Taldera",
        "T8",
        0,
    )
    assert 0.5 < pump.good <= 1.0
    assert [lot.pieces for lot in lots] == [1, 4, 1]
    with pytest.raises(InputError, match="yields no 'stator'"):
        workshop.stock.put_on_shelf(1, {"stator": 1}, "B2", "ada")
    with pytest.raises(InputError, match="pieces"):
        workshop.stock.put_on_shelf(1, {}, "B2", "ada")
    assert len(workshop.stock.book().lots) == 3


def test_several_movements_are_all_or_none(workshop, lot):
    other = workshop.stock.receive(replace(PUMP, count=1), "ada")
    with pytest.raises(InputError):
        workshop.store.stock.move(
            [Move(lot.number, "reserved", 1, 1), Move(other.number, "reserved", 2, 1)], "ada"
        )
    assert workshop.stock.book().lot(lot.number).held == ()


_NUMBERS = counting(1)
_STEPS = st.lists(
    st.tuples(
        st.sampled_from(("received", "counted", "reserved", "released", "used", "written_off", "undo")),
        st.integers(0, 5), st.integers(1, 2),
    ),
    max_size=14,
)  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(_STEPS)
def test_counts_are_the_sums_of_movements_whatever_happens(sqlite_store, steps):
    workshop = Workshop(sqlite_store, FAMILIES)
    if next(_NUMBERS) == 1:
        for _ in range(2):
            workshop.jobs.open(INTAKE)
    lot = workshop.stock.receive(PUMP, "ada").number
    for kind, count, job in steps:
        told = workshop.stock.movements([lot])
        try:
            if kind == "undo":
                workshop.stock.undo(told[count % len(told)].number, "ada")
            elif kind == "received":
                workshop.stock.receive(PUMP, "ada")
            else:
                workshop.stock.move(
                    Move(lot, kind, count, job if kind in FOR_A_JOB else None), "ada"
                )
        except InputError:
            continue
        after, told = workshop.stock.book().lot(lot), workshop.stock.movements([lot])
        assert after.pieces == sum(m.pieces for m in told) >= 0
        assert sum(held for _, held in after.held) == sum(m.held for m in told) <= after.pieces
        assert all(held > 0 for _, held in after.held)


_RESERVE = """
import sys
from counterpoise.errors import InputError
from counterpoise.workshop.store.stock import Move
from counterpoise.workshop.store.store import Store
with Store(sys.argv[1]) as store:
    sys.stdin.read(1)
    got = 0
    for _ in range(10):
        try:
            store.stock.move([Move(1, "reserved", 1, int(sys.argv[2]))], "x")
            got += 1
        except InputError:
            pass
print(got)
"""


def test_two_programs_never_reserve_the_same_piece(tmp_path):
    path = tmp_path / "workshop.db"
    with Store(path) as store:
        workshop = Workshop(store, FAMILIES)
        for _ in range(2):
            workshop.jobs.open(INTAKE)
        workshop.stock.receive(replace(PUMP, count=7), "ada")
        command = [sys.executable, "-c", _RESERVE, str(path)]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        started = [subprocess.Popen([*command, job], **pipes) for job in ("1", "2")]
        for process in started:
            process.stdin.write("x")
            process.stdin.flush()
        got = [int(process.communicate(timeout=120)[0]) for process in started]
        assert sum(got) == 7
        lot = store.stock.book().lot(1)
        assert (lot.free, sorted(held for _, held in lot.held)) == (0, sorted(n for n in got if n))


def test_lots_and_movements_cannot_be_changed_even_by_hand(sqlite_store, tmp_path):
    workshop = Workshop(sqlite_store, FAMILIES)
    workshop.stock.receive(PUMP, "ada")
    sqlite_store.close()
    with sqlite3.connect(tmp_path / "workshop.db") as raw:
        for statement in ("DELETE FROM lots", "UPDATE lots SET cost_minor = 1", "DELETE FROM movements",
                          "UPDATE movements SET pieces = 9"):  # fmt: skip
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                raw.execute(statement)
        row = "lot, at, by, kind, pieces, held, place, note"
        for pieces, held in ((-4, 0), (0, 4), (0, -1)):
            with pytest.raises(sqlite3.IntegrityError, match="not so many pieces"):
                raw.execute(
                    f"INSERT INTO movements ({row}) VALUES (1, '', '', 'used', {pieces}, {held}, '', '')"
                )
    raw.close()
