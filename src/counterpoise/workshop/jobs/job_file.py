"""A job on its way from one store to another, as JSON: its entries, photos and recordings.

``{"format": "counterpoise-job", "version": 1, "number", "entries": [{"number", "at", "by", "body": {"kind", ...}}],
"photos": {id: base64}, "recordings": {id: {"name", "data": base64, "top_rpm", "sound", "sound_start_s"}}}``, the last
three only where they were told; ``sound`` is the id of another recording. The number is that of the store it left; the
receiving store gives its own. Reading checks everything before anything is stored and reports all mistakes by path.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeVar

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Body, Entry, Intake, Job, Retraction
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json, read_text
from counterpoise.workshop.jobs.photos import MOST_BYTES, is_clean

FORMAT, VERSION = "counterpoise-job", 1
MOST_RECORDING_BYTES = 20 * 1024 * 1024
LEAST_RPM, MOST_RPM = 200, 2500
MOST_SOUND_START_S = 2000.0
T = TypeVar("T")
_KEYS = {"format", "version", "number", "entries", "photos", "recordings"}


@dataclass(frozen=True, slots=True)
class Facts:
    """What was told of a recording: the programme's top speed, the id of its sound, when that began on its clock."""

    top_rpm: float | None = None
    sound: str = ""
    sound_start_s: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return what was told, by name."""
        told = {
            "top_rpm": self.top_rpm,
            "sound": self.sound or None,
            "sound_start_s": self.sound_start_s,
        }
        return {name: value for name, value in told.items() if value is not None}


NOTHING_TOLD = Facts()


@dataclass(frozen=True, slots=True)
class Parcel:
    """Everything of a job; ``recordings`` gives (name, bytes) by id, ``facts`` what was told of some of them."""

    entries: tuple[Entry, ...]
    photos: Mapping[str, bytes] = field(default_factory=dict)
    recordings: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)
    facts: Mapping[str, Facts] = field(default_factory=dict)


def digest(data: bytes) -> str:
    """Return the id under which these bytes are kept."""
    return hashlib.sha256(data).hexdigest()[:32]


def photo_ids(body: Body) -> tuple[str, ...]:
    """Return the photos a body refers to."""
    return getattr(body, "photos", ())


def recording_ids(body: Body) -> tuple[str, ...]:
    """Return the recordings a body refers to."""
    named: str = getattr(body, "recording", "")
    return (named,) if named else ()


def parcel_to_json(job: Job, parcel: Parcel) -> dict[str, Any]:
    """Return the parcel of a job as plain JSON values."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "number": job.number,
        "entries": [
            {
                "number": entry.number,
                "at": entry.at,
                "by": entry.by,
                "body": body_to_json(entry.body),
            }
            for entry in parcel.entries
        ],
        "photos": {key: _text(data) for key, data in parcel.photos.items()},
        "recordings": {
            key: {"name": name, "data": _text(data)} | parcel.facts.get(key, Facts()).to_json()
            for key, (name, data) in parcel.recordings.items()
        },
    }


def parcel_from_json(data: object) -> Parcel:
    """Read a parcel. Raises InputError listing every mistake by its path."""
    problems: list[str] = []
    parts = _outline(data)
    entries = _entries(parts.get("entries"), problems)
    photos = _files(parts.get("photos", {}), "photos", problems, _photo)
    recordings = _files(parts.get("recordings", {}), "recordings", problems, _recording)
    facts = (
        _files(parts.get("recordings", {}), "recordings", problems, _facts) if not problems else {}
    )
    if not problems:
        problems += _gaps(entries, photos, recordings)
        problems += [
            f"recordings.{key}.sound: {one.sound} is not among the recordings"
            for key, one in facts.items()
            if one.sound and one.sound not in recordings
        ]
    if problems:
        count = "1 mistake" if len(problems) == 1 else f"{len(problems)} mistakes"
        listed = "\n".join(f"  {problem}" for problem in problems)
        raise InputError(f"Nothing was imported, {count} found:\n{listed}")
    return Parcel(tuple(entries), photos, recordings, facts)


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()


def _outline(data: object) -> Mapping[str, Any]:
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        raise InputError(
            "This is not a job as exported", field="format", remedy=f'"format" must be "{FORMAT}"'
        )
    if data.get("version") != VERSION:
        remedy = f"This version reads version {VERSION}; update the program that is behind"
        raise InputError(
            f"version: {data.get('version')!r} cannot be read", field="version", remedy=remedy
        )
    strangers = sorted(str(key) for key in data if key not in _KEYS)
    if strangers:
        raise InputError(
            f"{strangers[0]}: is not part of an exported job",
            field=strangers[0],
            remedy="Take it out",
        )
    return data


def _entries(data: object, problems: list[str]) -> list[Entry]:
    if not isinstance(data, list) or not data:
        problems.append("entries: a list with at least the intake is expected")
        return []
    entries = [
        _try(problems, _entry, one, f"entries[{index}]", index + 1)
        for index, one in enumerate(data)
    ]
    good = [entry for entry in entries if entry is not None]
    if good and entries[0] is not None and not isinstance(good[0].body, Intake):
        problems.append("entries[0]: the first entry must be the intake")
    return good


def _entry(data: object, where: str, number: int) -> Entry:
    if not isinstance(data, Mapping):
        raise InputError(f"{where}: a set of fields is expected")
    strangers = sorted(str(key) for key in data if key not in {"number", "at", "by", "body"})
    if strangers:
        raise InputError(f"{where}.{strangers[0]}: is not a field of an entry")
    if data.get("number") != number:
        raise InputError(
            f"{where}.number: must be {number}, entries are numbered from 1 without gaps"
        )
    body = body_from_json(data.get("body"), f"{where}.body")
    return Entry(
        number,
        _time(data.get("at"), f"{where}.at"),
        read_text(data.get("by", ""), f"{where}.by"),
        body,
    )


def _time(value: object, where: str) -> str:
    """Read a time with its zone; return it in UTC to the second."""
    try:
        when = datetime.fromisoformat(value) if isinstance(value, str) else None
        if when is not None and when.tzinfo is not None:
            return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ").rjust(20, "0")
    except (ValueError, OverflowError):
        pass
    raise InputError(f'{where}: a time such as "2026-03-01T09:30:00Z" is expected')


def _files(data: object, where: str, problems: list[str], read: Callable[..., T]) -> dict[str, T]:
    if not isinstance(data, Mapping):
        problems.append(f"{where}: a set of fields is expected")
        return {}
    found = {
        str(key): _try(problems, read, one, f"{where}.{key}", str(key)) for key, one in data.items()
    }
    return {key: one for key, one in found.items() if one is not None}


def _photo(data: object, where: str, key: str) -> bytes:
    raw = _bytes(data, where, key, MOST_BYTES)
    if not is_clean(raw):
        raise InputError(
            f"{where}: is not a JPEG free of metadata; export the job again instead of editing the file"
        )
    return raw


def _recording(data: object, where: str, key: str) -> tuple[str, bytes]:
    told = {"top_rpm", "sound", "sound_start_s"}
    if (
        not isinstance(data, Mapping)
        or not {"name", "data"} <= set(data) <= {"name", "data"} | told
    ):
        raise InputError(f"{where}: a name and data are expected")
    name = read_text(data["name"], f"{where}.name")
    return name[:200], _bytes(data["data"], f"{where}.data", key, MOST_RECORDING_BYTES)


def _facts(data: Mapping[str, Any], where: str, _: str) -> Facts:
    """Read what was told of a recording that has been read already."""
    top_rpm, sound, start_s = (data.get(name) for name in ("top_rpm", "sound", "sound_start_s"))
    if not (top_rpm is None or (_is_number(top_rpm) and LEAST_RPM <= top_rpm <= MOST_RPM)):
        raise InputError(f"{where}.top_rpm: a speed from {LEAST_RPM} to {MOST_RPM} rpm is expected")
    if not (start_s is None or (_is_number(start_s) and abs(start_s) <= MOST_SOUND_START_S)):
        raise InputError(f"{where}.sound_start_s: a number of seconds is expected")
    return Facts(top_rpm, "" if sound is None else read_text(sound, f"{where}.sound"), start_s)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _bytes(data: object, where: str, key: str, most: int) -> bytes:
    try:
        raw = base64.b64decode(data, validate=True) if isinstance(data, str) else b""
    except (binascii.Error, ValueError) as error:
        raise InputError(f"{where}: is not base64") from error
    if len(raw) > most:
        raise InputError(
            f"{where}: {len(raw) / 1e6:.0f} MB are too many, at most {most / 1e6:.0f} MB are taken"
        )
    if digest(raw) != key:
        raise InputError(
            f"{where}: the bytes do not belong to this id; the file was damaged or edited"
        )
    return raw


def _gaps(
    entries: list[Entry], photos: Mapping[str, Any], recordings: Mapping[str, Any]
) -> list[str]:
    """Name the files that entries refer to but the parcel lacks, and retractions of nothing."""
    out = []
    for index, entry in enumerate(entries):
        where = f"entries[{index}].body"
        out += [
            f"{where}.photos: {key} is not among the photos"
            for key in photo_ids(entry.body)
            if key not in photos
        ]
        out += [
            f"{where}.recording: {key} is not among the recordings"
            for key in recording_ids(entry.body)
            if key not in recordings
        ]
        if isinstance(entry.body, Retraction) and not 1 <= entry.body.entry < entry.number:
            out.append(f"{where}.entry: there is no earlier entry {entry.body.entry}")
    standing = Job(0, tuple(entries)).standing
    if not any(isinstance(entry.body, Intake) for entry in standing):
        out.append("entries: no intake is left standing")
    return out


def _try(problems: list[str], read: Callable[..., T], *given: Any) -> T | None:
    try:
        return read(*given)
    except InputError as error:
        problems.append(str(error))
        return None
