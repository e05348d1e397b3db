"""``counterpoise spin``: read a recording of a spin; ``spin-proof``: compare before and after."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TypedDict, Unpack

import click

from counterpoise.cli.common import family_named
from counterpoise.spin.audio.sound import read_sound
from counterpoise.spin.audio.sound_data import sound_data
from counterpoise.spin.causes.groups import WORDS
from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.kind import USUAL_KIND, Kind, expected_rpm
from counterpoise.spin.proof import Proof, compare
from counterpoise.spin.reading import Reading, read_spin
from counterpoise.spin.recording import FormatHints
from counterpoise.spin.summary import ReadingData, proof_data, reading_data
from counterpoise.workshop.jobs.fields import LEAST_RPM, MOST_RPM

AXIS_WORDS = {"flat": "sideways", "up": "up and down"}
FILE = click.Path(path_type=Path)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
TOP = click.option(
    "--top-rpm",
    type=click.FloatRange(LEAST_RPM, MOST_RPM),
    help="The programme's spin speed, where known.",
)


KIND = click.option(
    "--family",
    default="",
    help="Kind of machine, or its file: how fast it turns, and whether causes can be named.",
)


class _Options(TypedDict):
    """What the options of ``spin`` say of the files; None or "" where they say nothing."""

    columns: str | None
    unit: str
    time_unit: str
    rate_hz: float | None
    sound: Path | None
    sound_start: float | None
    family: str


def kind_named(family: str) -> Kind:
    """Of what kind of machine a recording is; without a family, the usual one.

    Raises NotFoundError, CatalogError.
    """
    if not family:
        return USUAL_KIND
    # a family takes a moment to load; a recording of which nothing was said needs none
    from counterpoise.workshop.services.machine_kinds import kind_of

    return kind_of(family_named(family))


def reading_of(
    file: Path,
    top_rpm: float | None,
    hints: FormatHints | None = None,
    kind: Kind = USUAL_KIND,
) -> Reading:
    """Read a recording file to the end; ``top_rpm`` None if unknown. Raises RecordingError."""
    recording = read_recording(file, hints=hints, top_rpm=expected_rpm(kind, top_rpm))
    return read_spin(recording, top_rpm=top_rpm, kind=kind)


@click.command("spin")
@click.argument("file", type=FILE)
@click.option(
    "--baseline", type=FILE, help="An earlier recording of the same machine when it was healthy."
)
@TOP
@KIND
@click.option("--columns", help="Names or numbers (from 0) of time, x, y, z, separated by commas.")
@click.option(
    "--unit", default="", help="Unit of the accelerations: g, mg, m/s2 or cm/s2. Found if not told."
)
@click.option(
    "--time-unit", default="", help="Unit of the time: s, ms, us, ns or iso. Found if not told."
)
@click.option("--rate-hz", type=float, help="Sample rate, for a file without a column of time.")
@click.option("--sound", type=FILE, help="The sound of the same spin: a WAV file.")
@click.option(
    "--sound-start",
    type=float,
    help="When it begins, in seconds of the recording. Found if not told.",
)
@JSON
def spin(
    file: Path,
    baseline: Path | None,
    top_rpm: float | None,
    as_json: bool,
    **options: Unpack[_Options],
) -> None:
    """Read the recording FILE (CSV or CSV.gz) of a phone that lay on the machine during a spin."""
    kind = kind_named(options["family"])
    reading = reading_of(file, top_rpm, _hints(options), kind)
    healthy = reading_of(baseline, top_rpm, kind=kind) if baseline else None
    data = reading_data(reading, judge(reading, healthy))
    if wav := options["sound"]:
        data["sound"] = sound_data(read_sound(wav, "", reading, options["sound_start"]))
    say = family_named(options["family"]).body.spoken if options["family"] else str
    click.echo(json.dumps(data) if as_json else say("\n".join(_lines(data))))


def _hints(options: _Options) -> FormatHints:
    columns = options["columns"]
    names = [each.strip() for each in columns.split(",")] if columns else []
    # A name of digits alone is taken for a place: nobody names a column so.
    places = tuple(int(each) if each.isdigit() else each for each in names)
    return FormatHints(places, options["unit"], options["time_unit"], None, options["rate_hz"])


def _lines(data: ReadingData) -> list[str]:
    # The verdict first; after it the causes, likeliest first, speeds and remarks.
    out = [data["sentence"], ""]
    out += [
        f"  {100 * p:3.0f} %  {WORDS[g]}"
        for g, p in sorted(data["groups"].items(), key=lambda item: -item[1])
    ]
    if data["top_rpm"]:
        out += ["", f"The drum reached {data['top_rpm']:.0f} rpm."]
    out += [
        f"  {p['start_s']:6.1f} to {p['end_s']:6.1f} s  {p['rpm']:5.0f} rpm"
        for p in data["plateaus"]
    ]
    if data["given_up"]:
        out.append(
            f"It set out to spin {data['attempts']} times and gave up {data['given_up']} times."
        )
    out += [
        f"Resonance at {r['rpm']} rpm ({AXIS_WORDS[r['axis']]}, {r['level_ms2']} m/s2)."
        for r in data["resonances"]
    ]
    # Fewer than one in three seconds is laundry that falls, in any machine.
    if data["knocks"]["per_second"] > 0.3:
        out.append(f"It knocks {data['knocks']['per_second']:.1f} times a second at low speed.")
    out += [f"Note: {note['text']}" for note in data["notes"]]
    if "sound" in data:
        # The report room brings in matplotlib, which a spin without sound does without.
        from counterpoise.report.views.sound import sound_lines

        out += [
            "",
            data["sound"]["sentence"],
            *(f"  {line}" for line in sound_lines(data["sound"], data["top_rpm"])),
        ]
        out.append("Tones of a bearing: counterpoise measure bearing-tones")
    return out


@click.command("spin-proof")
@click.argument("before", type=FILE)
@click.argument("after", type=FILE)
@TOP
@KIND
@JSON
def spin_proof(
    before: Path, after: Path, top_rpm: float | None, family: str, as_json: bool
) -> None:
    """Compare the recording AFTER a repair with the one BEFORE: pass, not yet, or cannot tell."""
    kind = kind_named(family)
    proof = compare(*(reading_of(file, top_rpm, kind=kind) for file in (before, after)))
    click.echo(json.dumps(proof_data(proof)) if as_json else "\n".join(_proof_lines(proof)))


def _proof_lines(proof: Proof) -> list[str]:
    rows = [
        f"  {row.name}: {row.before} before, {row.after} after ({row.unit})" for row in proof.rows
    ]
    return [proof.sentence, "", *rows]
