"""Reads a job that was exported as a file: everything is checked before anything is stored.

A file may have been edited by hand or come from elsewhere, so nothing in it is trusted: ids must be
the digests of their bytes, photos free of metadata, entries numbered without gaps. All mistakes are
reported at once, each by its path.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TypeGuard, TypeVar

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import (
    Entry,
    Intake,
    Job,
    Retraction,
)
from counterpoise.workshop.jobs.entry_json import (
    body_from_json,
    photo_ids,
    read_text,
    recording_ids,
)
from counterpoise.workshop.jobs.fields import LEAST_RPM, MOST_RPM
from counterpoise.workshop.jobs.job_file import (
    FORMAT,
    MOST_RECORDING_BYTES,
    VERSION,
    JobFile,
    RecordingMetadata,
    digest,
)
from counterpoise.workshop.jobs.photos import MOST_BYTES, is_clean

# half an hour: sound and recording are of the same spin
MOST_SOUND_START_S = 2000.0
Value = TypeVar("Value")
# Behind it there is a slip or a clock gone wrong; a guarantee reckoned from it would find no day.
LATEST_YEAR = 2199
_KEYS = {"format", "version", "number", "entries", "photos", "recordings"}
_ENTRY_KEYS = {"number", "at", "by", "body"}
_RECORDING_KEYS = {"name", "data"}
_METADATA_KEYS = {"top_rpm", "sound", "sound_start_s"}
_LONGEST_FILE_NAME = 200


def job_file_from_json(data: object) -> JobFile:
    """Return an exported job. Raises InputError that lists every mistake by its path."""
    # collected, not raised: whoever mends a file wants all its mistakes at once
    problems: list[str] = []
    parts = _outline(data)
    entries = _entries(parts.get("entries"), problems)
    photos = _files(parts.get("photos", {}), "photos", problems, _photo)
    recordings = _files(parts.get("recordings", {}), "recordings", problems, _recording)
    # only of recordings that could be read: a second complaint about the same one helps nobody
    metadata = (
        _files(parts.get("recordings", {}), "recordings", problems, _metadata)
        if not problems
        else {}
    )
    if not problems:
        problems += _gaps(entries, photos, recordings)
        problems += [
            f"recordings.{key}.sound: {known.sound} is not among the recordings"
            for key, known in metadata.items()
            if known.sound and known.sound not in recordings
        ]
    if problems:
        count = "1 mistake" if len(problems) == 1 else f"{len(problems)} mistakes"
        listed = "\n".join(f"  {problem}" for problem in problems)
        raise InputError(f"Nothing was imported, {count} found:\n{listed}")
    return JobFile(tuple(entries), photos, recordings, metadata)


def _outline(data: object) -> Mapping[str, object]:
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        raise InputError(
            "This is not a job as exported", field="format", remedy=f'"format" must be "{FORMAT}"'
        )
    # said before anything else is looked at: the rest may mean something different there
    if data.get("version") != VERSION:
        remedy = f"This version reads version {VERSION}; update the program that is behind"
        raise InputError(
            f"version: {data.get('version')!r} cannot be read", field="version", remedy=remedy
        )
    # what this version does not know would be lost without a word
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
        _try(problems, _entry, entry, f"entries[{index}]", index + 1)
        for index, entry in enumerate(data)
    ]
    good = [entry for entry in entries if entry is not None]
    if good and entries[0] is not None and not isinstance(good[0].body, Intake):
        problems.append("entries[0]: the first entry must be the intake")
    return good


def _entry(data: object, where: str, number: int) -> Entry:
    if not isinstance(data, Mapping):
        raise InputError(f"{where}: a set of fields is expected")
    strangers = sorted(str(key) for key in data if key not in _ENTRY_KEYS)
    if strangers:
        raise InputError(f"{where}.{strangers[0]}: is not a field of an entry")
    # retractions point at numbers, so a gap would make them point elsewhere
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
    """Return a time with its zone in UTC to the second."""
    try:
        when = datetime.fromisoformat(value) if isinstance(value, str) else None
        if when is not None and when.tzinfo is not None and when.year <= LATEST_YEAR:
            # years before 1000 come without leading zeros, and times are compared as texts
            return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ").rjust(20, "0")
    except (ValueError, OverflowError):
        pass
    raise InputError(
        f'{where}: a time such as "2026-03-01T09:30:00Z" is expected, not after {LATEST_YEAR}'
    )


def _files(
    data: object, where: str, problems: list[str], read: Callable[..., Value]
) -> dict[str, Value]:
    if not isinstance(data, Mapping):
        problems.append(f"{where}: a set of fields is expected")
        return {}
    files = {
        str(key): _try(problems, read, file, f"{where}.{key}", str(key))
        for key, file in data.items()
    }
    return {key: file for key, file in files.items() if file is not None}


def _photo(data: object, where: str, key: str) -> bytes:
    # a photo edited into the file would carry its place and time into this workshop
    raw = _bytes(data, where, key, MOST_BYTES)
    if not is_clean(raw):
        raise InputError(
            f"{where}: is not a JPEG free of metadata;"
            " export the job again instead of editing the file"
        )
    return raw


def _recording(data: object, where: str, key: str) -> tuple[str, bytes]:
    known = _RECORDING_KEYS | _METADATA_KEYS
    if not isinstance(data, Mapping) or not _RECORDING_KEYS <= set(data) <= known:
        raise InputError(f"{where}: a name and data are expected")
    name = read_text(data["name"], f"{where}.name")
    # a name that is too long is no reason to lose a recording
    return name[:_LONGEST_FILE_NAME], _bytes(
        data["data"], f"{where}.data", key, MOST_RECORDING_BYTES
    )


def _metadata(data: Mapping[str, object], where: str, _: str) -> RecordingMetadata:
    """Return what is known of a recording whose bytes have been read already."""
    top_rpm, sound, start_s = (data.get(name) for name in ("top_rpm", "sound", "sound_start_s"))
    if not (top_rpm is None or (_is_number(top_rpm) and LEAST_RPM <= top_rpm <= MOST_RPM)):
        raise InputError(f"{where}.top_rpm: a speed from {LEAST_RPM} to {MOST_RPM} rpm is expected")
    if not (start_s is None or (_is_number(start_s) and abs(start_s) <= MOST_SOUND_START_S)):
        raise InputError(f"{where}.sound_start_s: a number of seconds is expected")
    sound_id = "" if sound is None else read_text(sound, f"{where}.sound")
    return RecordingMetadata(top_rpm, sound_id, start_s)


def _is_number(value: object) -> TypeGuard[float]:
    # a bool is an int in Python, and no speed
    return isinstance(value, int | float) and not isinstance(value, bool)


def _bytes(data: object, where: str, key: str, most: int) -> bytes:
    try:
        # without validate, letters that are not base64 would be skipped in silence
        raw = base64.b64decode(data, validate=True) if isinstance(data, str) else b""
    except (binascii.Error, ValueError) as error:
        raise InputError(f"{where}: is not base64") from error
    if len(raw) > most:
        raise InputError(
            f"{where}: {len(raw) / 1e6:.0f} MB are too many, at most {most / 1e6:.0f} MB are taken"
        )
    # the id vouches for the bytes: entries elsewhere may point at the same file
    if digest(raw) != key:
        raise InputError(
            f"{where}: the bytes do not belong to this id; the file was damaged or edited"
        )
    return raw


def _gaps(
    entries: list[Entry], photos: Mapping[str, object], recordings: Mapping[str, object]
) -> list[str]:
    """Name the files that entries refer to but the job lacks, and retractions of nothing."""
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
        # a retraction of the future would take back whatever comes to have that number
        if isinstance(entry.body, Retraction) and not 1 <= entry.body.entry < entry.number:
            out.append(f"{where}.entry: there is no earlier entry {entry.body.entry}")
    # numbers are given anew on import; here it stands for none
    standing = Job(0, tuple(entries)).standing
    if not any(isinstance(entry.body, Intake) for entry in standing):
        out.append("entries: no intake is left standing")
    return out


def _try(problems: list[str], read: Callable[..., Value], *given: object) -> Value | None:
    try:
        return read(*given)
    except InputError as error:
        problems.append(str(error))
        return None
