"""``counterpoise cases``: the case book, listed, shown, or played."""

from __future__ import annotations

import json

import click

from counterpoise.catalog.cases import Case, known_cases
from counterpoise.catalog.loader import Catalog
from counterpoise.catalog.lookup import plain
from counterpoise.catalog.schema.messages import instead, sentence
from counterpoise.cli.common import catalog_command
from counterpoise.errors import NotFoundError
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.casebook import CaseVerdict, play_case


@click.command(
    help=(
        "The case book: short stories with what a seasoned hand would suspect, do next, and "
        "never do."
    )
)
@click.argument("case", required=False)
@click.option(
    "--run",
    is_flag=True,
    help="Play the cases and hold the answers against them. Exits 1 where one is off.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@catalog_command
@click.pass_context
def cases(ctx: click.Context, case: str | None, known: Catalog, run: bool, as_json: bool) -> None:
    """List, tell or play the case book; exit with 1 if an answer is off. Raises NotFoundError."""
    # a wrong name is told before anything is played: that takes seconds a case
    chosen = _choose(case, known)
    if not run:
        click.echo(
            json.dumps(plain(chosen), indent=2, ensure_ascii=False)
            if as_json
            else _listing(chosen, case)
        )
        return
    # each case alone: what one brings to light must not move the next
    verdicts = [_play(story, known) for story in chosen]
    if as_json:
        click.echo(
            json.dumps([verdict_row(verdict) for verdict in verdicts], indent=2, ensure_ascii=False)
        )
    else:
        click.echo("\n".join(line for verdict in verdicts for line in verdict_lines(verdict)))
        agreed = sum(not verdict.objections for verdict in verdicts)
        click.echo(f"{agreed} of {len(verdicts)} cases go as a seasoned hand would have it.")
    # so that a script notices a catalog that was changed for the worse
    ctx.exit(1 if any(verdict.objections for verdict in verdicts) else 0)


def _choose(name: str | None, known: Catalog) -> list[Case]:
    cases, problems = known_cases(known)
    for problem in problems:
        # on stderr: the answer, in JSON too, is that of the stories that are sound
        click.echo(f"Left out: {problem}", err=True)
    if name is None:
        return list(cases)
    # one name may be in two books
    named = [case for case in cases if case.id == name]
    if not named:
        ids = [case.id for case in cases]
        raise NotFoundError(f"There is no case {name}", remedy=sentence(instead(name, ids)))
    return named


def _play(case: Case, known: Catalog) -> CaseVerdict:
    # the planner takes a second to load; listing the cases needs none of it
    from counterpoise.workshop.diagnosis.assess import assess

    return play_case(case, known[case.family], assess, Settings())


def verdict_row(verdict: CaseVerdict) -> dict[str, object]:
    """How a story went, as JSON values."""
    return {
        "case": verdict.case.id,
        "suspects": [{"fault": fault, "probability": chance} for fault, chance in verdict.suspects],
        "next_step": verdict.next_step,
        "decision": verdict.decision,
        "objections": list(verdict.objections),
    }


def _listing(chosen: list[Case], name: str | None) -> str:
    if name is None:
        return "\n".join(f"{case.id:<26} {case.title}" for case in chosen)
    return "\n\n".join(_story(case) for case in chosen)


def _story(case: Case) -> str:
    # as the seasoned hand had it before saying what to do
    findings = ", ".join(f"{check}: {shown}" for check, shown in case.findings)
    lines = [
        f"{case.title} ({case.id})",
        case.story,
        f"Found: {findings or 'nothing yet'}",
        f"Suspect first: {', '.join(case.suspect_first)}",
        f"Do next, any of: {', '.join(case.do_next)}",
        f"A blunder: {', '.join(case.blunder) or 'none named'}",
        f"Decision: {case.decision or 'not ripe'}",
        f"Why: {case.why} ({case.source})",
    ]
    # what a story is worth as a test hangs on what was written first
    if case.written:
        lines.append(f"Written {case.written}, {case.since}")
    lines += [f"Mended because of it: {text}" for text in case.mended]
    return "\n".join(lines)


def verdict_lines(verdict: CaseVerdict) -> list[str]:
    """How a story went: a line, and one for each objection to it; never empty."""
    # no suspect is left of a machine that was proven to run true
    fault, chance = verdict.suspects[0] if verdict.suspects else ("nothing", 0.0)
    word = "off" if verdict.objections else "agrees"
    head = f"{word:<7} {verdict.case.id}: suspects {fault} ({chance:.0%}), "
    head += f"next {verdict.next_step or 'nothing'}"
    return [head, *(f"        {objection}" for objection in verdict.objections)]
