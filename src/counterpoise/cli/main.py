"""The command group; each command is a module of its own, imported when it is called."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import problem
from counterpoise.cli.compiled import keep_compiled
from counterpoise.cli.lazy import Lazy, LazyGroup
from counterpoise.cli.terminal import any_letters
from counterpoise.errors import CounterpoiseError

if TYPE_CHECKING:
    from collections.abc import Iterator

# where the context keeps whether the answer is wanted as JSON
_AS_JSON = "counterpoise.as_json"


# In the order of the alphabet, as --help lists them. The first sentence of each is also in its
# module; it stands here so that listing the commands imports none of them.
class PlainErrors(LazyGroup):
    """Shows what was wrong in words, or as JSON under ``--json``, and exits with 2."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,
    ) -> click.Context:
        """Read the command line as far as the name of the command."""
        # parsing takes the list apart, so this is asked first; behind "--" a word is a value
        options = args[: args.index("--")] if "--" in args else args
        any_letters(as_json="--json" in options)
        keep_compiled()
        with self._refusals("--json" in options):
            ctx = super().make_context(info_name, args, parent, **extra)
        ctx.meta[_AS_JSON] = "--json" in options
        return ctx

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; exit status 2 where it, or its command line, is refused."""
        with self._refusals(ctx.meta[_AS_JSON]):
            return super().invoke(ctx)

    @staticmethod
    @contextmanager
    def _refusals(as_json: bool) -> Iterator[None]:
        # only errors raised on purpose: a mistake of ours keeps its traceback
        try:
            yield
        except (CounterpoiseError, click.ClickException) as error:
            if as_json:
                click.echo(json.dumps(problem(error), ensure_ascii=False))
            elif isinstance(error, click.ClickException):
                raise  # click says it, with the usage line above
            else:
                click.echo(f"Error: {error}", err=True)
            raise click.exceptions.Exit(2) from error


@click.group(
    cls=PlainErrors,
    lazy={
        "calibrate": Lazy(
            "guarantee:calibrate",
            "Play virtual jobs, and say how often each way's 80 % range held what it came to.",
        ),
        "cases": Lazy(
            "cases:cases",
            "The case book: short stories with what a seasoned hand would suspect, do next, "
            "and never do.",
        ),
        "catalog": Lazy(
            "catalog.commands:catalog",
            "What is known of families of machines.",
        ),
        "customer": Lazy(
            "keeping.customer:customer",
            "What is kept of a customer: given out, or taken away with the job kept.",
        ),
        "demo": Lazy(
            "demo.command:demo",
            "Play three invented machines to their ends: one mended, one not although the "
            "owner would pay, one for its parts.",
        ),
        "export": Lazy(
            "transfer:export_job",
            "Write a JOB with its photos and recordings to FILE as JSON, or print it where no "
            "FILE is given.",
        ),
        "guarantee": Lazy(
            "guarantee:guarantee",
            "Say how often a repair comes back, what to ask for a guarantee on it, and how "
            "long it can be for a price.",
        ),
        "import": Lazy(
            "transfer:import_file",
            "Take in a FILE: a job as exported, or a CSV of repair records in the columns of "
            "the Open Repair Data standard.",
        ),
        "job": Lazy(
            "job.commands:job",
            "Take machines in, find out, decide, close.",
        ),
        "learning": Lazy(
            "catalog.learning:learning",
            "Say what the closed jobs of FAMILY taught: each figure by the catalog and as it is "
            "in use, and with --judge whether it foretells better.",
        ),
        "ledger": Lazy(
            "ledger:ledger",
            "Say what the jobs closed in MONTH (like 2026-03; without it, the last with any) "
            "took and left.",
        ),
        "lives": Lazy(
            "money:lives",
            "Fit the life of machines to FILE, a CSV with years, failed (yes, no) and entered "
            "(years).",
        ),
        "measure": Lazy(
            "measure.commands:measure",
            "Turn readings taken by hand into numbers with their doubt, and advice.",
        ),
        "people": Lazy(
            "keeping.people:people",
            "Who works here by name: added, changed, given another PIN, signed out.",
        ),
        "plan": Lazy(
            "plan:plan",
            "Plan the abstract model in FILE (docs/model.md): what to do first, what that is "
            "worth, and how sure it is.",
        ),
        "pool": Lazy(
            "catalog.pool:pool",
            "Share counts, never jobs, with other workshops, and start from theirs.",
        ),
        "prices": Lazy(
            "stock.prices:prices",
            "Suppliers' price lists: what they would change, what stands, what stood.",
        ),
        "serve": Lazy(
            "serve:serve",
            "Serve the workshop's pages until Ctrl-C.",
        ),
        "settings": Lazy(
            "settings:settings",
            "What the workshop charges, what its time costs, what a machine is worth to it.",
        ),
        "spin": Lazy(
            "spin:spin",
            "Read the recording FILE (CSV or CSV.gz) of a phone that lay on the machine "
            "during a spin.",
        ),
        "spin-proof": Lazy(
            "spin:spin_proof",
            "Compare the recording AFTER a repair with the one BEFORE: pass, not yet, or "
            "cannot tell.",
        ),
        "stock": Lazy(
            "stock.commands:stock",
            "The shelf: parts that lie there, and what happened to them.",
        ),
        "store": Lazy(
            "keeping.commands:store",
            "The workshop's store as a whole: back it up and restore it, move it, bring it up to "
            "date.",
        ),
        "study": Lazy(
            "study:study",
            "Play virtual jobs under each way of working, and compare what they earn.",
        ),
        "twin": Lazy(
            "twin.command:twin",
            "Work out what a machine does in a spin: resonances, tub travel, feet, force on "
            "the floor, top panel.",
        ),
        "warm": Lazy(
            "warm:warm",
            "Compile the planner and the physics now, once, so that the first job does not "
            "wait for it.",
        ),
        "worth": Lazy(
            "money:worth",
            "Weigh a repair against a new machine, by the years left, and by the rules people "
            "know.",
        ),
        "yard": Lazy(
            "yard:yard",
            "Say which machine to take next: what an hour at the bench adds to each, and "
            "which fill the hours best.",
        ),
    },
)
@click.version_option(package_name="counterpoise")
def main() -> None:
    """From a shaking machine to a decision that pays."""
