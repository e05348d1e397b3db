"""The command group; each command lives in a module of its own."""

from typing import Any

import click

from counterpoise.cli.cases import cases
from counterpoise.cli.catalog import catalog
from counterpoise.cli.demo import demo
from counterpoise.cli.guarantee import calibrate, guarantee
from counterpoise.cli.job.commands import job
from counterpoise.cli.job.donor import parts
from counterpoise.cli.job.estimate import estimate
from counterpoise.cli.job.fit import fit
from counterpoise.cli.job.machine import machine
from counterpoise.cli.job.quote import quote
from counterpoise.cli.job.recording import recording
from counterpoise.cli.ledger import ledger
from counterpoise.cli.measure.commands import measure
from counterpoise.cli.money import lives, worth
from counterpoise.cli.plan import plan
from counterpoise.cli.serve import serve
from counterpoise.cli.settings import settings
from counterpoise.cli.spin import spin, spin_proof
from counterpoise.cli.stock.commands import stock
from counterpoise.cli.stock.prices import prices
from counterpoise.cli.study import study
from counterpoise.cli.transfer import export_job, import_file
from counterpoise.cli.twin import twin
from counterpoise.cli.yard import yard
from counterpoise.errors import CounterpoiseError


class PlainErrors(click.Group):
    """Shows what was wrong in words, without a traceback, and exits with 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except CounterpoiseError as error:
            click.echo(f"Error: {error}", err=True)
            ctx.exit(2)


@click.group(cls=PlainErrors)
@click.version_option(package_name="counterpoise")
def main() -> None:
    """From a shaking washing machine to a decision that pays."""


job.add_command(estimate)
job.add_command(fit)
job.add_command(machine)
job.add_command(parts)
job.add_command(quote)
job.add_command(recording)
main.add_command(calibrate)
main.add_command(cases)
main.add_command(catalog)
main.add_command(demo)
main.add_command(export_job)
main.add_command(guarantee)
main.add_command(import_file)
main.add_command(job)
main.add_command(ledger)
main.add_command(lives)
main.add_command(measure)
main.add_command(plan)
main.add_command(prices)
main.add_command(serve)
main.add_command(settings)
main.add_command(stock)
main.add_command(study)
main.add_command(twin)
main.add_command(worth)
main.add_command(yard)
main.add_command(spin)
main.add_command(spin_proof)
