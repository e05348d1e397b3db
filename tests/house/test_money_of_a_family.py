"""What a machine is worth is asked of its family: nothing but the resolver reads it from the settings."""

import ast
from pathlib import Path

import pytest

from counterpoise.workshop.jobs.settings import BY_FAMILY

SOURCE = Path(__file__).parents[2] / "src" / "counterpoise"
# the settings themselves, the one place that says which figure holds
OWNERS = {
    "workshop/jobs/settings.py",
    "workshop/jobs/family_money.py",
    # the price that a job says of its own machine
    "workshop/jobs/entries.py",
}
# what carries such a figure under its own name: the family's money, a job's own price, the figures
# handed to the money room
HOLDERS = {"money", "money_of", "own", "customer", "self", "cover", "intake", "job", "body"}


def read_from(tree):
    """(line, holder, name) of every attribute read that has the name of a family's figure."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in BY_FAMILY:
            # of a call the function that was called: ``money_of(family, settings).scrap_minor``
            holder = node.value.func if isinstance(node.value, ast.Call) else node.value
            name = getattr(holder, "attr", getattr(holder, "id", "?"))
            yield node.lineno, name, node.attr


@pytest.mark.parametrize(
    "text", ["settings.scrap_minor", "case.settings.life_shape", "prices.settings.comeback_minor"]
)
def test_a_figure_taken_from_the_settings_would_be_seen(text):
    ((_, holder, _),) = read_from(ast.parse(text))
    assert holder not in HOLDERS


def test_no_figure_of_a_family_is_read_from_the_settings():
    wrong = [
        f"{file.relative_to(SOURCE)}:{line}: {holder}.{name}"
        for file in sorted(SOURCE.rglob("*.py"))
        if str(file.relative_to(SOURCE)) not in OWNERS
        for line, holder, name in read_from(ast.parse(file.read_text("utf-8")))
        if holder not in HOLDERS
    ]
    assert wrong == []
