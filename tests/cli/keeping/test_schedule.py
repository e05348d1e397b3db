"""Backups by themselves: due by the last that lies there, made in a process of their own, failures said."""

import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.web.workbench import INTAKE

from counterpoise.cli.keeping import schedule
from counterpoise.cli.keeping.schedule import Schedule
from counterpoise.workshop.store.keeping.archive import backups_in
from counterpoise.workshop.store.store import Store

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("stamps", "seconds"),
    [
        ([], 0),
        (["20260302T110000Z"], 23 * 3600),
        (["20260228T110000Z", "20260301T180000Z"], 6 * 3600),
        (["20260215T120000Z"], 0),
        # a clock that was years ahead once does not put the next off for years
        (["20390101T000000Z"], 24 * 3600),
    ],
)
def test_one_is_due_a_day_after_the_last(tmp_path, stamps, seconds):
    for stamp in stamps:
        (tmp_path / f"counterpoise-{stamp}.zip").write_bytes(b"")
    assert Schedule("workshop.db", tmp_path, 24).due_in(NOON) == seconds


def test_it_is_made_and_after_one_that_failed_tried_again(tmp_path, monkeypatch, capfd):
    where, place = tmp_path / "workshop.db", tmp_path / "kept"
    waits = []

    class Stop(threading.Event):
        def wait(self, timeout):
            waits.append(timeout)
            # the first finds no store, the second does
            if len(waits) == 2:
                with Store(where) as store:
                    store.jobs.open(INTAKE, "ada")
            return len(waits) == 3

    Schedule(str(where), place, 24).run(Stop())
    assert waits[0] == 0
    assert waits[1] == schedule._AGAIN_S
    assert waits[2] == pytest.approx(24 * 3600, abs=60)
    assert "There is no store at" in capfd.readouterr().err
    (made,) = backups_in(place)
    assert made.stat().st_mode & 0o077 == 0


def test_the_address_of_a_server_is_not_shown_to_others(tmp_path, monkeypatch):
    started = []

    class Process:
        pid, returncode = 0, 0

        def __init__(self, words, **more):
            started.append((words, more["env"]))

        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def communicate(self):
            return "", None

    monkeypatch.setattr(schedule.subprocess, "Popen", Process)
    monkeypatch.setattr(schedule.os, "setpriority", lambda *_: None)
    assert Schedule("postgresql://odo:secret@db/workshop", tmp_path, 24, "fam").make()
    ((words, environment),) = started
    assert "secret" not in " ".join(map(str, words))
    assert environment["COUNTERPOISE_STORE"] == "postgresql://odo:secret@db/workshop"
    assert environment["COUNTERPOISE_FAMILIES"] == "fam"


def test_what_a_killed_backup_left_is_cleared(tmp_path):
    import os

    from counterpoise.workshop.store.keeping.archive import back_up

    with Store(tmp_path / "workshop.db") as store:
        store.jobs.open(INTAKE, "ada")
    old, young = tmp_path / "kept" / ".backup-old", tmp_path / "kept" / ".backup-young"
    for each in (old, young):
        each.mkdir(parents=True)
    os.utime(old, (0, 0))
    back_up(tmp_path / "workshop.db", tmp_path / "kept", Path("none"), "2026-03-02T12:00:00Z")
    assert sorted(path.name for path in (tmp_path / "kept").iterdir()) == [
        ".backup-young",
        "counterpoise-20260302T120000Z.zip",
    ]
