"""People in the terminal: added, changed, given another PIN; the PIN is never an argument."""

import pytest
from click.testing import CliRunner
from tests.workshop.people.quick import quick

from counterpoise.cli import main
from counterpoise.workshop.services.people import People


@pytest.fixture
def typed(workshop):
    """Runs a command with a line on its input: (exit code, what it printed)."""
    workshop.people = People(workshop.store, quick())

    def call(line, *words):
        done = CliRunner().invoke(main, ["people", *words], obj=workshop, input=line)
        assert done.exception is None or isinstance(done.exception, SystemExit)
        return done.exit_code, done.output

    return call


def test_somebody_is_added_and_changed_and_signed_out(typed, workshop):
    assert typed("271828\n", "add", "Ada") == (0, "1  Ada, owner\n")
    assert typed("a long phrase\r\n", "add", "Ben Odo", "--role", "counter") == (
        0,
        "2  Ben Odo, counter\n",
    )
    assert workshop.people.checked("ben odo", "a long phrase").number == 2
    secret = workshop.people.sign_in(workshop.people.get(2), "Firefox")
    code, listed = typed("", "list")
    assert (code, "Ben Odo is signed in: Firefox" in listed) == (0, True)
    assert "argon2" not in typed("", "list", "--json")[1]
    assert typed("", "out", "ben  odo")[1] == "Ben Odo is signed out: 1 sessions ended.\n"
    assert workshop.people.who(secret) is None
    assert typed("", "change", "Ben Odo", "--role", "bench")[1] == "2  Ben Odo, bench\n"
    assert typed("", "change", "Ben Odo", "--gone")[1] == "2  Ben Odo, bench, gone\n"
    assert typed("", "change", "Ben Odo", "--back")[1] == "2  Ben Odo, bench\n"
    code, said = typed("", "change", "Ada", "--gone")
    assert (code, "the last owner" in said) == (2, True)
    assert typed("", "out", "Eve")[0] == 2


def test_a_forgotten_pin_is_renewed_by_whoever_has_the_store(typed, workshop):
    typed("271828\n", "add", "Ada")
    assert typed("161803\n", "renew", "ada") == (0, "Ada signs in with the new one.\n")
    assert workshop.people.checked("Ada", "161803").name == "Ada"
    assert workshop.people.checked("Ada", "271828") is None


@pytest.mark.parametrize("line", ["", "\n", "12345\n", "123456\n"])
def test_a_pin_that_is_none_adds_nobody(typed, workshop, line):
    code, said = typed(line, "add", "Ada")
    assert (code, "secret:" in said) == (2, True)
    assert not workshop.people.any()


def test_a_pin_is_no_argument(typed, workshop):
    for words in (
        ("add", "Ada", "271828"),
        ("add", "Ada", "--secret", "271828"),
        ("renew", "Ada", "271828"),
    ):
        assert typed("", *words)[0] == 2
    assert not workshop.people.any()
