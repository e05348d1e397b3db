"""A study's file: what is torn, foreign or another study's; and the policies' memory."""

import json
from dataclasses import replace

import pytest

from counterpoise.errors import InputError
from counterpoise.reasoning.actions import Action
from counterpoise.workshop.studies.checkpoints import (
    POLICIES,
    Reader,
    StudyOrder,
    append,
    fingerprint,
    finished,
)
from counterpoise.workshop.studies.policies import DecisionMemory

ORDER = StudyOrder("front_loader", 100, 1)


def block(first, count=50, learned=None, policies=POLICIES):
    played = {name: [(1.0, 2.0, 0.0, 0.0, 0.0, 0.0)] * count for name in policies}
    return {
        "first": first, "count": count, "perfect": [3.0] * count, "played": played,
        "learned": learned or {},
    }  # fmt: skip


@pytest.fixture
def kept(tmp_path):
    return tmp_path / "study.jsonl"


def test_a_block_comes_back_as_it_was_put_down(kept):
    append(kept, ORDER, block(50))
    append(kept, ORDER, block(0))
    back = finished(kept, ORDER)
    assert set(back) == {(50, 50), (0, 50)}
    assert back[0, 50]["perfect"] == [3.0] * 50
    assert back[0, 50]["program"] == fingerprint(ORDER)


def test_no_file_holds_no_blocks(kept):
    assert finished(kept, ORDER) == {}
    assert not kept.exists()


def test_a_torn_last_line_is_cut_off_and_nothing_else(kept):
    append(kept, ORDER, block(0))
    whole = kept.read_bytes()
    kept.write_bytes(whole + whole[: len(whole) // 2])
    assert set(finished(kept, ORDER)) == {(0, 50)}
    assert kept.read_bytes() == whole


@pytest.mark.parametrize(
    "line", [b"milk", b"[]", b"{}", b"17", b'{"program": 1}', b"\xff\xfe", b"null"]
)
def test_a_line_that_is_no_block_is_named_by_its_number(kept, line):
    append(kept, ORDER, block(0))
    with kept.open("ab") as out:
        out.write(line + b"\n")
    before = kept.read_bytes()
    with pytest.raises(InputError, match="line 2"):
        finished(kept, ORDER)
    assert kept.read_bytes() == before


def test_what_another_study_put_down_is_left_alone(kept):
    append(kept, ORDER, block(0))
    assert finished(kept, replace(ORDER, seed=2)) == {}
    assert finished(kept, replace(ORDER, perturb=True)) == {}
    assert finished(kept, replace(ORDER, growths=5)) == {}
    assert finished(kept, replace(ORDER, known_share=1.0)) == {}
    assert finished(kept, replace(ORDER, repeat_share=0.0)) == {}
    assert set(finished(kept, replace(ORDER, jobs=7))) == {(0, 50)}


def test_blocks_without_the_careful_way_do_not_serve_a_study_with_it(kept):
    careful = replace(ORDER, careful=True)
    append(kept, ORDER, block(0))
    assert finished(kept, careful) == {}
    append(kept, careful, block(0, policies=careful.policies))
    assert set(finished(kept, careful)) == set(finished(kept, ORDER)) == {(0, 50)}


def test_the_fingerprint_depends_on_what_decides_and_on_nothing_else():
    same = [
        replace(ORDER, known_share=0.1),
        replace(ORDER, jobs=3),
        replace(ORDER, seed=9),
        replace(ORDER, perturb=True),
    ]
    other = [
        replace(ORDER, family="top_loader"),
        replace(ORDER, growths=9),
        replace(ORDER, settings=replace(ORDER.settings, bench_rate_minor=1)),
    ]
    assert {fingerprint(order) for order in same} == {fingerprint(ORDER)}
    assert fingerprint(ORDER) not in {fingerprint(order) for order in other}


def test_a_reader_tells_each_decision_once_and_waits_for_a_line_to_end(kept):
    memory, reader = DecisionMemory(), Reader(fingerprint(ORDER))
    told = []
    memory.learn = told.append
    reader.catch_up(kept, memory)
    append(kept, ORDER, block(0, learned={"a": "check:x"}))
    reader.catch_up(kept, memory)
    reader.catch_up(kept, memory)
    line = json.dumps(
        {
            "program": fingerprint(ORDER),
            "seed": 1,
            "perturb": False,
            "known_share": 0.5,
            "repeat_share": 0.1,
            **block(50, learned={"b": "y:z"}),
        }
    ).encode()
    with kept.open("ab") as out:
        out.write(line[:40])
    reader.catch_up(kept, memory)
    assert told == [{"a": "check:x"}]
    with kept.open("ab") as out:
        out.write(line[40:] + b"\n")
    reader.catch_up(kept, memory)
    assert told == [{"a": "check:x"}, {"b": "y:z"}]


def test_decisions_of_another_program_are_not_learned(kept):
    append(kept, replace(ORDER, growths=9), block(0, learned={"a": "check:x"}))
    told = []
    memory = DecisionMemory()
    memory.learn = told.append
    Reader(fingerprint(ORDER)).catch_up(kept, memory)
    assert told == []


def test_a_policy_is_asked_once_a_history_and_policies_are_kept_apart():
    asked = []

    def decide(name):
        return lambda _problem, history: asked.append((name, history)) or Action("check", name)

    memory = DecisionMemory()
    one, two = memory.remembering("one", decide("a")), memory.remembering("two", decide("b"))
    history = ("6 years, shakes", "look=fine")
    assert one(None, history) == one(None, history) == Action("check", "a")
    assert two(None, history) == Action("check", "b")
    assert asked == [("a", history), ("b", history)]
    assert len(memory.take_fresh()) == 2
    assert memory.take_fresh() == {}
