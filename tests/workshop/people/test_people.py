"""Who works here: names, roles, secrets, sessions; the same on both kinds of store."""

import itertools
import json
import re
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from argon2 import PasswordHasher, extract_parameters
from tests.workshop.people.quick import quick

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.people import secret as secrets_kept
from counterpoise.workshop.people.acting import acting, signed
from counterpoise.workshop.people.records import Session, name_from
from counterpoise.workshop.people.roles import Right, Role, rights_of, who_may
from counterpoise.workshop.people.secret import Hasher, digest_of, secret_from
from counterpoise.workshop.services.people import People
from counterpoise.workshop.store.keeping.archive import back_up
from counterpoise.workshop.store.keeping.moving import move
from counterpoise.workshop.store.keeping.restoring import restore
from counterpoise.workshop.store.store import Store

PIN = "271828"


def test_the_first_is_an_owner_and_names_are_taken_for_ever(people):
    assert not people.any()
    ada = people.add("  Ada   L ", "bench", PIN)
    assert (ada.name, ada.role, ada.active) == ("Ada L", Role.OWNER, True)
    assert people.add("Ben", "bench", "314159").role is Role.BENCH
    for taken in ("ada l", "ADA L", "Ａda L"):  # a wide A is what is tried
        with pytest.raises(InputError, match="there is Ada L already"):
            people.add(taken, "bench", PIN)
    people.change(2, "bench", active=False)
    with pytest.raises(InputError, match="Ben already, who does not work here now"):
        people.add("ben", "counter", PIN)
    assert [each.name for each in people.all()] == ["Ada L", "Ben"]
    assert people.by_name("BEN").number == 2
    with pytest.raises(NotFoundError):
        people.by_name("Cleo")


@pytest.mark.parametrize("name", ["", "   ", "x" * 41, "a\x07b", "\u202eadA"])
def test_a_name_that_is_none_is_refused(name):
    with pytest.raises(InputError) as refused:
        name_from(name)
    assert refused.value.field == "name"


@pytest.mark.parametrize(
    "secret",
    ["", "12345", "short", "000000", "123456", "654321", "345678", "01234567890", "aaaaaaaaa",
     " " * 9, "x" * 201, "Adalovelace"],
)  # fmt: skip
def test_what_is_guessed_first_is_refused(secret):
    with pytest.raises(InputError) as refused:
        secret_from(secret, "AdaLovelace")
    assert refused.value.field == "secret"
    # the sentence has words of its own that somebody could pick
    assert secret in {"", "short"} or secret not in str(refused.value)


def test_letters_composed_otherwise_are_the_same_secret(people):
    people.add("Zoë", "owner", "müde Füße")
    assert people.checked("Zoe\u0308", "mu\u0308de Fu\u0308ße").name == "Zoë"
    assert people.checked("zoë", "mude Fuße") is None
    assert people.checked("zoë", "\ud800") is None


def test_a_secret_is_kept_as_argon2id_by_the_figures_of_the_standard():
    kept = Hasher().hashed(PIN).decode()
    figures = extract_parameters(kept)
    assert kept.startswith("$argon2id$")
    # RFC 9106, 4: the second recommended option
    assert (figures.time_cost, figures.memory_cost, figures.parallelism) == (3, 65536, 4)
    assert PIN not in kept


def test_a_name_that_nobody_has_costs_the_same_work(people, monkeypatch):
    people.add("Ada", "owner", PIN)
    compared = []
    real = PasswordHasher.verify
    monkeypatch.setattr(
        PasswordHasher,
        "verify",
        lambda self, kept, said: compared.append(kept) or real(self, kept, said),
    )
    assert people.checked("Ada", "161803") is None
    assert people.checked("Eve", "161803") is None
    # and what nobody's is made of opens nothing
    assert people.checked("Eve", "nobody's") is None
    assert len(compared) == 3
    assert len({str(extract_parameters(kept)) for kept in compared}) == 1


def test_a_secret_kept_for_less_work_is_kept_for_more_at_the_next_sign_in(store):
    People(store, quick()).add("Ada", "owner", PIN)
    before = store.people.named("Ada")[1]
    better = People(store, Hasher(PasswordHasher(time_cost=2, memory_cost=16, parallelism=1)))
    assert better.checked("Ada", PIN).name == "Ada"
    after = store.people.named("Ada")[1]
    assert extract_parameters(after.decode()).time_cost == 2
    assert after != before
    assert better.checked("Ada", PIN).name == "Ada"


def test_many_who_sign_in_at_once_wait_and_are_told(monkeypatch):
    monkeypatch.setattr(secrets_kept, "_PATIENT_S", 0.01)
    for _ in range(2):
        secrets_kept._turns.acquire()
    try:
        with pytest.raises(Exception, match="Many sign in at once"):
            quick().hashed(PIN)
    finally:
        for _ in range(2):
            secrets_kept._turns.release()
    assert quick().hashed(PIN)


def test_the_last_owner_stays(people):
    people.add("Ada", "owner", PIN)
    for role, active in (("bench", True), ("owner", False)):
        with pytest.raises(InputError, match="the last owner"):
            people.change(1, role, active=active)
    people.add("Ben", "owner", PIN)
    # each makes the other bench in the same moment
    with ThreadPoolExecutor(2) as pool:
        both = [pool.submit(people.change, number, "bench", active=True) for number in (1, 2)]
    failed = [each.exception() for each in both if each.exception()]
    assert len(failed) == 1
    assert isinstance(failed[0], InputError)
    assert sum(each.role is Role.OWNER for each in people.all()) == 1
    with pytest.raises(InputError, match="no role 'boss'"):
        people.change(1, "boss", active=True)
    for number in (0, 77, 2**40):
        with pytest.raises(NotFoundError):
            people.change(number, "bench", active=True)


def test_a_session_opens_and_is_ended(people):
    ada = people.add("Ada", "owner", PIN)
    ben = people.add("Ben", "bench", PIN)
    mine, his, other = (people.sign_in(who, "Firefox") for who in (ada, ben, ben))
    assert [people.who(each).name for each in (mine, his, other)] == ["Ada", "Ben", "Ben"]
    assert people.who("made up") is None
    assert people.who("") is None
    assert len(people.sessions()) == 3
    assert len(people.sessions(ben.number)) == 2
    # one's own, and nobody else's
    with pytest.raises(NotFoundError):
        people.end(digest_of(mine), ben)
    people.end(digest_of(other), ben)
    people.end(digest_of(his), ada)
    assert (people.who(his), people.who(other)) == (None, None)
    with pytest.raises(NotFoundError):
        people.end(digest_of(his), ada)
    again = people.sign_in(ben, "Firefox")
    assert people.who(again).role is Role.BENCH
    people.change(ben.number, "counter", active=True)
    assert people.who(again).role is Role.COUNTER
    people.change(ben.number, "counter", active=False)
    assert people.who(again) is None
    assert people.checked("Ben", PIN) is None
    people.change(ben.number, "counter", active=True)
    # back again, but the old session is not
    assert people.who(again) is None
    assert people.checked("Ben", PIN).name == "Ben"
    assert people.who(mine).name == "Ada"
    people.sign_out(mine)
    assert people.who(mine) is None


def test_a_new_secret_ends_the_sessions_but_the_one_it_was_made_in(people):
    ada = people.add("Ada", "owner", PIN)
    here, there = people.sign_in(ada, "here"), people.sign_in(ada, "there")
    people.renew(ada.number, "another one", keep=here)
    assert people.who(here).name == "Ada"
    assert people.who(there) is None
    assert people.checked("Ada", PIN) is None
    assert people.checked("Ada", "another one").name == "Ada"
    people.change(ada.number, "owner", active=True, secret="161803")
    assert people.who(here) is None
    with pytest.raises(InputError):
        people.change(ada.number, "owner", active=True, secret="1")
    assert people.checked("Ada", "161803").name == "Ada"
    assert people.end_all(ada.number) == 0


@pytest.fixture
def clock():
    return ["2026-03-01T09:00:00Z"]


@pytest.fixture
def timed(tmp_path, clock):
    with Store(tmp_path / "timed.db", lambda: clock[0]) as store:
        yield People(store, quick())


def test_a_session_ends_by_time_and_by_silence(timed, clock):
    ada = timed.add("Ada", "owner", PIN)
    used = timed.sign_in(ada, "b")
    for time in ("11:00:00", "16:00:00", "20:59:59"):
        clock[0] = f"2026-03-01T{time}Z"
        assert timed.who(used).name == "Ada"
        if time == "11:00:00":
            silent_since = timed.sign_in(ada, "c")
    assert timed.who(silent_since) is None
    clock[0] = "2026-03-01T21:00:00Z"
    assert timed.who(used) is None
    assert timed.sessions() == []
    # run out, the browser is still known as one where she was in; ended by hand it is not
    assert timed.knows_device(used, "ADA")
    assert not timed.knows_device(used, "Ben")
    ended = timed.sign_in(ada, "d")
    timed.sign_out(ended)
    assert not timed.knows_device(ended, "Ada")
    # forgotten after a quarter of a year
    clock[0] = "2026-07-01T09:00:00Z"
    timed.sign_in(ada, "e")
    assert not timed.knows_device(used, "Ada")


def test_reading_pages_does_not_write_each_time(timed, clock):
    secret = timed.sign_in(timed.add("Ada", "owner", PIN), "a")
    for time, noted in (
        ("09:00:30", "09:00:00"),
        ("09:01:00", "09:01:00"),
        ("09:01:59", "09:01:00"),
    ):
        clock[0] = f"2026-03-01T{time}Z"
        timed.who(secret)
        assert timed.sessions()[0].last_seen == f"2026-03-01T{noted}Z"


def test_a_clock_that_goes_back_lengthens_no_session():
    session = Session("x", 1, "Ada", "", "2026-03-01T09:00:00Z", "2026-03-01T09:00:00Z")
    assert session.open_at("2026-03-01T08:00:00Z")
    assert not session.open_at("2026-03-01T21:00:00Z")


def test_the_sessions_of_a_program_that_signs_in_each_time_do_not_fill_the_store(people):
    ada = people.add("Ada", "owner", PIN)
    secrets = [people.sign_in(ada, "a program") for _ in range(55)]
    assert len(people.sessions()) == 50
    assert people.who(secrets[-1]).name == "Ada"


def test_the_bench_sees_money_as_the_owner_sets_it(people, store):
    people.add("Ada", "owner", PIN)
    ben, cleo = people.add("Ben", "bench", PIN), people.add("Cleo", "counter", PIN)
    assert people.allowed(ben) == {Right.WORK, Right.MONEY}
    store.settings.change({"bench_sees_money": False})
    assert people.allowed(ben) == {Right.WORK}
    assert people.allowed(cleo) == {Right.WORK, Right.MONEY, Right.CLOSE}
    assert rights_of(Role.OWNER, bench_sees_money=False) == set(Right)
    assert who_may(Right.CLOSE) == "Only owner and counter may close jobs"
    assert who_may(Right.MONEY) == "Only owner and bench and counter may see money"
    assert who_may(Right.MONEY, bench_sees_money=False) == "Only owner and counter may see money"


def test_whoever_is_signed_in_signs():
    with acting("Ada"):
        assert signed("Ben") == "Ada"
        with acting(""):
            assert signed("Ben") == "Ben"
    assert signed("Ben") == "Ben"


def test_a_backup_has_the_secrets_beside_its_tables(people, store, tmp_path):
    ada = people.add("Ada", "owner", PIN)
    secret = people.sign_in(ada, "Firefox")
    kept = store.people.named("Ada")[1]
    url = store.database.engine.url.render_as_string(hide_password=False)
    made = back_up(url, tmp_path / "backups", tmp_path / "families", "2026-03-01T09:00:00Z")
    with zipfile.ZipFile(made.file) as archive:
        for name in archive.namelist():
            if not name.startswith("people/"):
                assert b"argon2" not in archive.read(name), name
                assert digest_of(secret).encode() not in archive.read(name), name
        assert archive.read("people/1.bin") == kept
        assert json.loads(archive.read("tables/people.jsonl"))["name"] == "Ada"
        assert "Ada" in archive.read("csv/people.csv").decode()
    restore(Path(made.file), tmp_path / "back.db", tmp_path / "families")
    move(tmp_path / "back.db", tmp_path / "moved.db")
    for name in ("back.db", "moved.db"):
        with Store(tmp_path / name) as again:
            there = People(again, quick())
            assert there.checked("Ada", PIN) == ada
            # where they are signed in is of the store they are signed in at
            assert there.who(secret) is None
            assert there.add("Ben", "bench", PIN).number == 2


def test_secrets_of_sessions_are_long_and_differ(people):
    ada = people.add("Ada", "owner", PIN)
    made = [people.sign_in(ada, "x") for _ in range(3)]
    assert len(set(made)) == 3
    # 256 bits in letters of 6
    assert all(re.fullmatch(r"[\w-]{43}", each) for each in made)


def test_pairs_of_names_that_look_alike_are_one(people):
    people.add("Åsa", "owner", PIN)
    for name in ("A\u030asa", "åsa", "ÅSA"):
        with pytest.raises(InputError):
            people.add(name, "bench", PIN)
    assert list(itertools.islice((each.name for each in people.all()), 3)) == ["Åsa"]
