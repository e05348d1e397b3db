"""The command group; each command lives in a module of its own."""

import click


@click.group()
@click.version_option(package_name="counterpoise")
def main() -> None:
    """From a shaking washing machine to a decision that pays."""
