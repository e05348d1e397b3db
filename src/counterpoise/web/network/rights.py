"""What each address asks of whoever is signed in: the one table of it.

What each role may do stands in :mod:`counterpoise.workshop.people.roles`.
"""

from __future__ import annotations

import re

from counterpoise.workshop.people.roles import Right

# Open to whoever reached the pages at all: the way in, and what says nothing of the workshop.
_OPEN = re.compile(
    r"/(?:sign-in|sign-out|theme|language|health|root\.crt|phone/in/.*|mark\.svg|\w+\.(?:css|js))"
)
# By what follows /jobs/NUMBER; the first that matches holds, and what matches none is work.
_TABLE: tuple[tuple[re.Pattern[str], Right], ...] = tuple(
    (re.compile(path), right)
    for path, right in (
        (r"/jobs/\d+/close", Right.CLOSE),
        (r"POST /settings", Right.SETTINGS),
        (r"POST /learning", Right.SETTINGS),
        (r"POST /people/own", Right.WORK),
        (r"POST /people/sessions/\w+", Right.WORK),
        (r"POST /people(/.*)?", Right.PEOPLE),
        (r"/jobs/\d+/(estimate|quote|quote\.pdf|decision|agreement)", Right.MONEY),
        (r"/jobs/\d+/(sheet|sheet\.pdf|labels\.pdf|parts)", Right.MONEY),
        (r"/(ledger|ledger\.csv|ledger/year|guarantee|yard|settings)", Right.MONEY),
        (r"/prices(\.csv|/.*)?", Right.MONEY),
        (r"/stock/lots/\d+/label\.pdf", Right.MONEY),
    )
)
# RFC 9110: these ask for the same as GET.
_READING = {"HEAD": "GET", "OPTIONS": "GET"}


def needed(method: str, path: str) -> Right | None:
    """The right that a request needs; None where the address is open to whoever reached it.

    A JSON twin needs what its page does.
    """
    plain = path.removeprefix("/api")
    if _OPEN.fullmatch(plain):
        return None
    asked = f"{_READING.get(method, method)} {plain}"
    for pattern, right in _TABLE:
        if pattern.fullmatch(plain) or pattern.fullmatch(asked):
            return right
    return Right.WORK
