"""``counterpoise study``: virtual jobs under each policy."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.catalog.loader import first_family
from counterpoise.cli.common import catalog_command
from counterpoise.money.amount import show

if TYPE_CHECKING:
    from counterpoise.catalog.loader import Catalog
    from counterpoise.workshop.studies.study import Lead, PolicyFigures, StudyFigures


@click.command(
    help=(
        "Play virtual jobs under each way of working, and compare what they earn.\n\n"
        'Every way gets the same machines. "kept" is the share of what one would earn who knew '
        "what is wrong."
    )
)
@click.option(
    "--family",
    default=first_family(),
    show_default=True,
    help="Family the machines are drawn from.",
)
@click.option(
    "--jobs", default=200, show_default=True, type=click.IntRange(1), help="How many virtual jobs."
)
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Seed of everything drawn."
)
@click.option(
    "--perturb", is_flag=True, help="Draw the machines from a catalog whose figures are off."
)
# four growths a decision: enough to rank the ways of working, and a study ends within minutes
@click.option(
    "--growths",
    default=4,
    show_default=True,
    type=click.IntRange(1),
    help="Our planner's effort a decision.",
)
@click.option("--careful", is_flag=True, help="Play the careful mode too, as one more way.")
@click.option(
    "--ways",
    default="",
    help="Ways of working to play, by name, with commas between; all but the slow ones by default.",
)
@click.option(
    "--known-share",
    default=0.5,
    show_default=True,
    type=click.FloatRange(0.0, 1.0),
    help="Chance that a feature of the machine is known at intake.",
)
@click.option(
    "--repeat-share",
    default=0.1,
    show_default=True,
    type=click.FloatRange(0.0, 1.0),
    help="Chance that a check is done a second time of one's own accord.",
)
@click.option(
    "--workers", default=2, show_default=True, type=click.IntRange(1), help="Processes to use."
)
@click.option(
    "--scheduler",
    default=None,
    help="Address of a Dask scheduler to use instead (extra 'cluster').",
)
@click.option(
    "--resume",
    type=click.Path(dir_okay=False, writable=True, path_type=Path),
    help="Keep finished blocks in this file; what is in it already is not played again.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@catalog_command
def study(
    known: Catalog,
    family: str,
    jobs: int,
    seed: int,
    perturb: bool,
    growths: int,
    careful: bool,
    ways: str,
    known_share: float,
    repeat_share: float,
    workers: int,
    scheduler: str | None,
    resume: Path | None,
    as_json: bool,
) -> None:
    """Play the jobs and print what each way of working earns a job."""
    from counterpoise.workshop.studies.checkpoints import StudyOrder
    from counterpoise.workshop.studies.study import run_study

    # refused in words before any process is started
    known.load(family)
    # every way of working gets the same machines, so that they differ by what they do alone
    order = StudyOrder(
        family,
        jobs,
        seed,
        perturb,
        growths,
        careful,
        tuple(name.strip() for name in ways.split(",") if name.strip()),
        known_share,
        repeat_share,
        folder=known.folder,
    )
    # the bar goes to stderr: what is piped on is the answer alone
    with click.progressbar(length=jobs, label="virtual jobs", file=sys.stderr) as bar:
        if scheduler:
            # an extra of its own: few have a cluster, and its library is large
            from counterpoise.workshop.studies.cluster import run_on_cluster

            figures = run_on_cluster(order, scheduler, bar.update, kept=resume)
        else:
            figures = run_study(order, workers, bar.update, kept=resume)
    click.echo(json.dumps(figures, indent=2) if as_json else "\n".join(_lines(figures)))


def _lines(figures: StudyFigures) -> list[str]:
    # the yardstick: nobody can earn more than one who knows the cause before the first check
    perfect = show(round(figures["perfect"]), "EUR")
    lines = [
        f"{figures['jobs']} virtual jobs; one who knew what is wrong would earn {perfect} a job.",
        "",
    ]
    lines.append(
        f"{'way of working':<16}{'net a job':>24}{'kept':>8}{'minutes':>10}{'comebacks':>12}"
        f"{'ended wrongly':>16}{'which cost':>22}"
    )
    for name, row in figures["policies"].items():
        net = _with_error(row)
        shares = f"{row['kept']:>8.0%}{row['minutes']:>10.1f}{row['comebacks']:>12.1%}"
        wrongly = f"{row['ended_wrongly']:>16.1%}{_amount(row['regret'], row['regret_error']):>22}"
        lines.append(f"{name:<16}{net:>24}{shares}{wrongly}")
    lines += ["", "Ended wrongly: parted out, scrapped or sold as it is, though worth saving."]
    # by machine, so that the luck of the draw falls out of the difference
    if figures["ahead"]:
        lines += ["", "Ours earns more a job, on the same machines, than"]
    lines += [f"{name:<16}{_with_error(row):>24}" for name, row in figures["ahead"].items()]
    return lines


def _with_error(row: PolicyFigures | Lead) -> str:
    return _amount(row["net"], row["error"])


def _amount(mean: float, error: float) -> str:
    # one standard error: what another seed would move it by
    return f"{show(round(mean), 'EUR')} ± {error / 100:.2f}"
