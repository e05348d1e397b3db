"""How the demo tells what an entry moved."""

import pytest

from counterpoise.cli.demo.story import chance_moves
from counterpoise.workshop.diagnosis.assessment import Suspect


def suspect(fault, probability):
    return Suspect(fault, fault.title(), "", probability, "possible")


def test_the_likeliest_before_or_after_come_first():
    before = (suspect("dampers", 0.5), suspect("feet", 0.3))
    after = (suspect("drum", 0.9), suspect("feet", 0.1))
    assert chance_moves(before, after) == [
        ("Drum", 0.0, 0.9),
        ("Dampers", 0.5, 0.0),
        ("Feet", 0.3, 0.1),
    ]


def test_no_more_than_four_are_told():
    many = tuple(suspect(f"fault {number}", 0.1 * number) for number in range(1, 8))
    moves = chance_moves((), many)
    assert [title for title, _, _ in moves] == ["Fault 7", "Fault 6", "Fault 5", "Fault 4"]


def test_a_suspect_that_was_ruled_out_is_seen_to_go():
    moves = chance_moves((suspect("dampers", 0.8),), ())
    assert moves == [("Dampers", 0.8, 0.0)]


@pytest.mark.parametrize("suspects", [(), (suspect("feet", 0.2),)])
def test_what_did_not_move_stays_the_same_on_both_sides(suspects):
    assert all(old == new for _, old, new in chance_moves(suspects, suspects))
