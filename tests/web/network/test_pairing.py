"""A code lets one phone in, once and soon."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from counterpoise.web.network.pairing import (
    MOST_SESSIONS,
    SESSION_S,
    TICKET_S,
    Pairing,
)


@pytest.fixture
def now():
    return [100.0]


@pytest.fixture
def door(now):
    return Pairing("https://192.168.7.20:8643", lambda: now[0])


def token(door, path="/jobs"):
    address = door.new_code(path)
    assert address.startswith("https://192.168.7.20:8643/phone/in/")
    return address.rsplit("/", 1)[1]


def test_a_code_works_once(door):
    code = token(door, "/jobs/3/record")
    admitted = door.redeem(code)
    assert admitted.path == "/jobs/3/record"
    assert door.is_paired(admitted.session)
    assert door.redeem(code) is None


def test_the_phone_itself_may_come_by_it_again(door):
    code = token(door)
    session = door.redeem(code).session
    again = door.redeem(code, session)
    assert (again.path, again.session) == ("/jobs", "")
    assert door.redeem(code, "somebody else") is None


def test_a_known_phone_does_not_use_up_a_code(door):
    session = door.redeem(token(door)).session
    code = token(door)
    assert door.redeem(code, session).session == ""
    assert door.redeem(code).session


def test_a_code_is_good_for_ten_minutes(door, now):
    early, late = token(door), token(door)
    now[0] += TICKET_S - 1
    assert door.redeem(early)
    now[0] += 2
    assert door.redeem(late) is None


def test_a_phone_is_known_for_a_days_work(door, now):
    session = door.redeem(token(door)).session
    now[0] += SESSION_S - 1
    assert door.is_paired(session)
    now[0] += 2
    assert not door.is_paired(session)


@pytest.mark.parametrize("wrong", ["", "x", "A" * 32, "\udcff", "0" * 10_000])
def test_nothing_else_opens(door, wrong):
    token(door)
    assert door.redeem(wrong) is None
    assert not door.is_paired(wrong)


def test_another_door_knows_neither(door, now):
    other = Pairing("https://192.168.7.20:8643", lambda: now[0])
    code = token(door)
    assert other.redeem(code) is None
    assert not other.is_paired(door.redeem(code).session)


def test_secrets_are_long_and_not_kept_as_they_are(door):
    code = token(door)
    session = door.redeem(code).session
    assert len(code) >= 32
    assert len(session) >= 40
    assert code not in str(door._used)
    assert session not in str(door._sessions)


def test_however_many_codes_are_made_none_pushes_out_another(door):
    first = token(door, "/jobs/7/record")
    for _ in range(2000):
        token(door)
    # nothing is kept of a code before it is used
    assert door._used == {}
    assert door.redeem(first).path == "/jobs/7/record"


def test_it_keeps_no_more_than_it_should(door, now):
    first = door.redeem(token(door)).session
    for _ in range(MOST_SESSIONS):
        door.redeem(token(door))
    assert len(door._sessions) == MOST_SESSIONS
    assert not door.is_paired(first)
    now[0] += TICKET_S + 1
    door.redeem(token(door))
    assert len(door._used) == 1


@pytest.mark.parametrize("at", [0, 20, 30, 40, -1])
def test_a_code_with_a_letter_changed_opens_nothing(door, at):
    code = token(door)
    other = "A" if code[at] != "A" else "B"
    forged = code[:at] + other + code[at:][1:]
    assert forged != code
    assert door.redeem(forged) is None
    assert door.redeem(code + "=") is None
    assert door.redeem(code).session


def test_of_many_phones_that_scan_at_once_one_comes_in(door):
    code = token(door)
    with ThreadPoolExecutor(8) as phones:
        admitted = list(phones.map(lambda _: door.redeem(code), range(40)))
    assert sum(each is not None for each in admitted) == 1


def test_every_code_and_every_secret_is_another(door):
    codes = [token(door) for _ in range(50)]
    sessions = [door.redeem(code).session for code in codes]
    assert len({*codes, *sessions}) == 100


def test_a_phone_that_is_not_known_any_more_needs_a_new_code(door, now):
    code = token(door)
    session = door.redeem(code).session
    now[0] += SESSION_S + 1
    assert door.redeem(code, session) is None
    assert door.redeem(token(door), session).session not in {"", session}


def test_a_code_may_be_good_for_less(door, now):
    code = door.new_code("/jobs", seconds=5).rsplit("/", 1)[1]
    now[0] += 6
    assert door.redeem(code) is None


def test_coming_by_an_old_code_does_not_make_the_day_longer(door, now):
    code = token(door)
    session = door.redeem(code).session
    now[0] += TICKET_S - 1
    assert door.redeem(code, session).session == ""
    now[0] += SESSION_S - TICKET_S + 2
    assert not door.is_paired(session)


def test_a_phone_has_a_number_of_its_own_as_long_as_it_is_known(door, now):
    first, second = (door.redeem(token(door)).session for _ in range(2))
    assert [door.label(each) for each in (first, second, first, "made up", "")] == [
        "Phone 1", "Phone 2", "Phone 1", "", "",
    ]  # fmt: skip
    now[0] += SESSION_S + 1
    third = door.redeem(token(door)).session
    assert [door.label(each) for each in (first, third)] == ["", "Phone 3"]
