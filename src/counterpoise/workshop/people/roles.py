"""What each role may do: the one table of it."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What somebody is in the workshop."""

    OWNER = "owner"
    BENCH = "bench"
    COUNTER = "counter"


# Few, so that everybody knows what theirs are; each has a page or a group of pages behind it.
class Right(StrEnum):
    """What somebody may do."""

    WORK = "work"
    MONEY = "money"
    CLOSE = "close"
    SETTINGS = "settings"
    PEOPLE = "people"


# docs/people.md shows the same table; a test holds the two together.
RIGHTS: dict[Role, frozenset[Right]] = {
    Role.OWNER: frozenset(Right),
    Role.COUNTER: frozenset({Right.WORK, Right.MONEY, Right.CLOSE}),
    # money only as long as the owner leaves it so (the setting bench_sees_money)
    Role.BENCH: frozenset({Right.WORK, Right.MONEY}),
}
# What a right is for, as part of a sentence: "Only owner and counter may ..."
RIGHT_WORDS = {
    Right.WORK: "work on machines",
    Right.MONEY: "see money",
    Right.CLOSE: "close jobs",
    Right.SETTINGS: "change settings",
    Right.PEOPLE: "say who works here",
}


def rights_of(role: Role, *, bench_sees_money: bool = True) -> frozenset[Right]:
    """What a role may do; ``bench_sees_money`` is the workshop's setting of that name."""
    rights = RIGHTS[role]
    return rights - {Right.MONEY} if role is Role.BENCH and not bench_sees_money else rights


def who_may(right: Right, *, bench_sees_money: bool = True) -> str:
    """Who has a right, in words: ``Only the owner may close jobs``."""
    roles = [role for role in Role if right in rights_of(role, bench_sees_money=bench_sees_money)]
    names, what = " and ".join(role.value for role in roles), RIGHT_WORDS[right]
    return f"Only {names} may {what}"
