"""A command that writes, given a key: the same again is answered as before and writes nothing."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import click

from counterpoise.errors import CounterpoiseError, InputError

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop
    from counterpoise.workshop.store.writes import Written

KEY = click.option(
    "--key",
    default="",
    metavar="KEY",
    help="A name of your own for this write: given again, nothing is written twice.",
)
_LONGEST = 100  # characters; the store keeps no longer key
# what an entry is checked against is not what it says
_NOT_SAID = frozenset({"expected_last"})


def written_once(
    workshop: Workshop, key: str, said: Mapping[str, object], run: Callable[[], object]
) -> tuple[object, Written | None]:
    """The answer of ``run``, written under a key, and None; or what it was answered before.

    ``said`` is the command with its options, by which the same is known as the same. Raises
    InputError where the key was used for something else.
    """
    # the command line is read without the store
    from counterpoise.cli.common import plain

    if len(key) > _LONGEST:
        raise InputError(
            f"key: is longer than {_LONGEST} characters", field="key", remedy="Give a shorter one"
        )
    content = {name: value for name, value in said.items() if name not in _NOT_SAID}
    digest = hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()
    before = workshop.writes.known(key)
    if before is None:
        try:
            with workshop.writes.under(key, digest) as unit:
                answer = run()
                workshop.writes.finish(unit, {"answer": plain(answer)})
                return answer, None
        except CounterpoiseError:
            # of two of the same at once the other was quicker: that is no failure
            before = workshop.writes.known(key)
            if before is None:
                raise
    if before.digest != digest:
        raise InputError(
            "key: was used before, for something else; nothing was written",
            field="key",
            remedy="Give a new key with everything new",
        )
    return _before(workshop, before), before


def _before(workshop: Workshop, before: Written) -> object:
    if before.answer is not None:
        return before.answer["answer"]
    from counterpoise.report.views.job import recorded

    # what to do now is worked out anew: it may be another step by now
    return recorded(workshop, before.job, before.entry)


def say_before(before: Written) -> None:
    """Say that nothing was written, and what was written before."""
    where = f" as entry {before.entry} of job {before.job}" if before.job else ""
    click.echo(f"Written before under this key{where}; nothing was written now.")
