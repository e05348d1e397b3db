"""Jobs, people and stock in any order: what holds after every step, whoever did it."""

import tempfile
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop
from tests.workshop.people.quick import quick

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.workshop.jobs.entries import Closed, Note
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.people.acting import acting
from counterpoise.workshop.people.roles import Role
from counterpoise.workshop.services.people import People
from counterpoise.workshop.store.store import Store

NAMES = st.sampled_from(["Ada", "ben", "Ben", "Cleo", "Dora"])
ROLES = st.sampled_from(["owner", "bench", "counter"])
SECRETS = st.sampled_from(["271828", "314159", "a phrase"])
FEW = st.integers(1, 4)
REFUSED = (InputError, NotFoundError, ConflictError)


class Shop(RuleBasedStateMachine):
    """A model of dictionaries beside the store; the store must agree after each step."""

    @initialize()
    def opened(self):
        self.folder = tempfile.TemporaryDirectory()
        self.store = Store(Path(self.folder.name) / "workshop.db")
        self.shop = ForeseeableWorkshop(self.store, {"bench": STOCKED})
        self.people = self.shop.people = People(self.store, quick())
        self.known = {}  # number: [name, role, active, secret]
        self.sessions = {}  # secret of a session: number of the person
        self.signed = {}  # (job, entry): who
        self.shelf = {}  # lot: pieces
        self.closed = set()

    def teardown(self):
        if hasattr(self, "store"):
            self.store.close()
            self.folder.cleanup()

    def hand(self, session):
        person = self.people.who(session) if session else None
        return person.name if person else ""

    def some_session(self, n):
        return list(self.sessions)[n % len(self.sessions)] if self.sessions else ""

    # --- people ---

    @rule(name=NAMES, role=ROLES, secret=SECRETS)
    def add(self, name, role, secret):
        taken = name.casefold() in {each[0].casefold() for each in self.known.values()}
        try:
            person = self.people.add(name, role, secret)
        except InputError:
            assert taken
        else:
            assert not taken
            role = role if self.known else "owner"
            self.known[person.number] = [name, role, True, secret]

    @rule(number=FEW, role=ROLES, active=st.booleans())
    def change(self, number, role, active):
        owners = [n for n, (_, part, here, _) in self.known.items() if here and part == "owner"]
        leaves_none = owners == [number] and not (active and role == "owner")
        try:
            self.people.change(number, role, active=active)
        except REFUSED:
            assert leaves_none or number not in self.known
        else:
            assert not leaves_none
            self.known[number][1:3] = role, active
            if not active:
                self.forget(number)

    @rule(number=FEW, secret=SECRETS)
    def renew(self, number, secret):
        try:
            self.people.renew(number, secret)
        except NotFoundError:
            assert number not in self.known
        else:
            self.known[number][3] = secret
            self.forget(number)

    @rule(name=NAMES, secret=SECRETS)
    def sign_in(self, name, secret):
        right = [
            number
            for number, (called, _, here, kept) in self.known.items()
            if here and kept == secret and called.casefold() == name.casefold()
        ]
        person = self.people.checked(name, secret)
        assert [person.number] == right if person else not right
        if person:
            self.sessions[self.people.sign_in(person, "machine")] = person.number

    @rule(n=st.integers(0, 9))
    def sign_out(self, n):
        session = self.some_session(n)
        self.people.sign_out(session)
        self.sessions.pop(session, None)

    def forget(self, number):
        self.sessions = {key: who for key, who in self.sessions.items() if who != number}

    # --- jobs and stock, by whoever is signed in or nobody ---

    @rule(n=st.integers(0, 9), claimed=NAMES)
    def open_job(self, n, claimed):
        hand = self.hand(self.some_session(n))
        with acting(hand):
            number = self.shop.jobs.open(INTAKE, claimed).number
        self.signed[number, 1] = hand or claimed

    @rule(n=st.integers(0, 9), number=FEW, claimed=NAMES, close=st.booleans())
    def write(self, n, number, claimed, close):
        hand = self.hand(self.some_session(n))
        body = Closed("scrap") if close else Note("looked at")
        try:
            with acting(hand):
                entry = self.shop.jobs.record(number, body, claimed).number
        except REFUSED:
            assert (number, 1) not in self.signed or number in self.closed
        else:
            self.signed[number, entry] = hand or claimed
            self.closed |= {number} if close else set()

    @rule(n=st.integers(0, 9), count=FEW, claimed=NAMES)
    def receive(self, n, count, claimed):
        hand = self.hand(self.some_session(n))
        with acting(hand):
            lot = self.shop.stock.receive(Receipt("bench", "damper_set", "used", count), claimed)
        self.shelf[lot.number] = count
        assert self.shop.stock.movements([lot.number])[0].by == (hand or claimed)

    @rule(lot=FEW, count=FEW, n=st.integers(0, 9))
    def write_off(self, lot, count, n):
        try:
            with acting(self.hand(self.some_session(n))):
                self.shop.stock.move(Move(lot, "written_off", count), "ada")
        except REFUSED:
            assert self.shelf.get(lot, 0) < count
        else:
            self.shelf[lot] -= count

    # --- what holds ---

    @invariant()
    def the_store_agrees(self):
        if not hasattr(self, "known"):
            return
        people = {each.number: each for each in self.people.all()}
        assert {n: [p.name, p.role, p.active] for n, p in people.items()} == {
            n: each[:3] for n, each in self.known.items()
        }
        assert not people or any(p.role is Role.OWNER and p.active for p in people.values())
        assert {key: self.people.who(key).number for key in self.sessions} == self.sessions
        assert len(self.people.sessions()) == len(self.sessions)
        assert {lot.number: lot.pieces for lot in self.shop.stock.book().lots} == self.shelf
        by = {
            (number, entry.number): entry.by
            for number in {job for job, _ in self.signed}
            for entry in self.shop.jobs.get(number).entries
        }
        assert by == self.signed


TestShop = Shop.TestCase
TestShop.settings = settings(
    max_examples=10, stateful_step_count=20, deadline=None, derandomize=True, database=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
