"""``counterpoise warm``: what is compiled once, compiled now."""

from __future__ import annotations

import json
import time
from dataclasses import asdict

import click


@click.command(
    help=(
        "Compile the planner and the physics now, once, so that the first job does not wait for it."
    )
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def warm(as_json: bool) -> None:
    """Compile what is not compiled yet; prints kernels, and seconds of each part."""
    from counterpoise.workshop.services.warm_up import warm_side_by_side

    # said before it starts: a minute of silence looks like a program that hangs
    start = time.monotonic()
    if not as_json:
        click.echo("Compiling the planner and the physics, side by side, about a minute, once:")
    # under --json nothing but the answer is printed
    parts = warm_side_by_side(lambda line: None if as_json else click.echo(line))
    seconds = time.monotonic() - start
    if as_json:
        answer = {"seconds": seconds, "parts": [asdict(part) for part in parts]}
        click.echo(json.dumps(answer, indent=2))
    else:
        click.echo(f"Ready after {seconds:.0f} s.")
