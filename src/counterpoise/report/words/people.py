"""Roles and what they may do, in words."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.workshop.people.roles import RIGHT_WORDS, Right, Role, rights_of

ROLE_WORDS: dict[str, str] = {"owner": "Owner", "bench": "Bench", "counter": "Counter"}


@dataclass(frozen=True, slots=True)
class Permission:
    """A right in words, and the roles that have it."""

    right: str
    words: str
    roles: tuple[str, ...]


def permissions(*, bench_sees_money: bool = True) -> tuple[Permission, ...]:
    """Each right with who has it, as the workshop is set."""
    return tuple(
        Permission(str(right), RIGHT_WORDS[right], _having(right, bench_sees_money))
        for right in Right
    )


# By the table itself: the page cannot say what is not so.
def _having(right: Right, bench_sees_money: bool) -> tuple[str, ...]:
    return tuple(
        ROLE_WORDS[role]
        for role in Role
        if right in rights_of(role, bench_sees_money=bench_sees_money)
    )
