"""``counterpoise catalog``: its commands, each imported when it is named."""

import click

from counterpoise.cli.lazy import Lazy, LazyGroup


@click.group(
    cls=LazyGroup,
    lazy={
        "add": Lazy(
            "catalog.own:add_file",
            "Put FILE (a family, its stories, or changes to a shipped one) into the folder of "
            "your own.",
        ),
        "check": Lazy(
            "catalog.reading:check_file",
            "Look FILE (a family, its stories, or changes) over: every mistake and warning, with "
            "file and line.",
        ),
        "families": Lazy(
            "catalog.reading:list_families",
            "List the families, and where each is from: shipped, changed, or the workshop's own.",
        ),
        "new": Lazy(
            "catalog.own:new_file",
            "Begin a family NAME: write a commented file and stories that can be tried at once.",
        ),
        "show": Lazy(
            "catalog.reading:show",
            "Show a FAMILY (an id or a file), or one ENTRY of it: a fault, check, repair, "
            "access, part ...",
        ),
        "try": Lazy(
            "catalog.own:try_it",
            "Try FILE without adding it: play the stories beside it, and propose a first step.",
        ),
    },
)
def catalog() -> None:
    """What is known of families of machines."""
