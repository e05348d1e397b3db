"""One entry that cannot be read marks its job; all others are listed and worked on."""

import sqlite3

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import StoreError
from counterpoise.workshop.jobs.entries import Closed, Note
from counterpoise.workshop.store.store import Store

DAMAGE = ['{"kind": "note", "text": 7}', '{"kind": "riddle"}', "{", '"\\ud800"', "[1]"]


def _damaged(path, body, job=2):
    raw = sqlite3.connect(path)
    triggers = [n for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
    for name in triggers:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("UPDATE entries SET body = ? WHERE job = ? AND number = 2", (body, job))
    raw.execute("DELETE FROM job_lines")
    raw.commit()
    raw.close()


def _filled(path):
    with Store(path, lambda: "2026-03-01T09:00:00Z") as store:
        for _ in range(3):
            number = store.jobs.open(INTAKE).number
            store.jobs.append(number, Note("looked at"))
            store.jobs.append(number, Closed("hand_back"))


@pytest.mark.parametrize("body", DAMAGE)
def test_it_is_marked_and_the_others_are_listed(tmp_path, body):
    path = tmp_path / "workshop.db"
    _filled(path)
    _damaged(path, body)
    with Store(path) as store:
        lines = {line.number: line for line in store.jobs.lines()}
        assert [lines[number].open for number in (1, 3)] == [False, False]
        assert lines[2].title == "This job cannot be read"
        assert "cannot be read: " in lines[2].damage
        with pytest.raises(StoreError, match=r"job 2.* cannot be read.*restore the newest backup"):
            store.jobs.get(2)
        assert len(store.jobs.get(3).entries) == 3
        # what sums up must not leave it out in silence; what learns may
        with pytest.raises(StoreError, match=r"job 2.* cannot be read"):
            store.closings.in_months("2026-03", "2026-03")
        assert 2 not in {job.number for job in store.closings.outlines() if len(job.entries) > 2}
        assert store.jobs.open(INTAKE).number == 4


def test_one_that_is_damaged_later_is_marked_by_whoever_comes_upon_it(tmp_path):
    path = tmp_path / "workshop.db"
    _filled(path)
    with Store(path) as store:
        store.jobs.lines()
        _damaged(path, "{")
        for _ in range(2):
            with pytest.raises(StoreError, match="cannot be read"):
                store.jobs.get(2)
        assert [line.number for line in store.jobs.lines() if line.damage] == [2]


def test_one_that_was_mended_is_listed_as_ever(tmp_path):
    path = tmp_path / "workshop.db"
    _filled(path)
    _damaged(path, "{")
    with Store(path) as store:
        assert any(line.damage for line in store.jobs.lines())
    _damaged(path, '{"kind": "note", "text": "looked at"}')
    with Store(path) as store:
        assert not any(line.damage for line in store.jobs.lines())
        assert len(store.jobs.get(2).entries) == 3
