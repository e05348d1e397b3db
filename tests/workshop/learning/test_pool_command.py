"""``counterpoise pool``: given, taken, left; and that no file of it can name a job."""

import json
import re
from dataclasses import replace

from click.testing import CliRunner
from tests.workshop.learning.jobs_of import DAMPERS, FAMILY, at, workshop_of

from counterpoise.cli import main
from counterpoise.workshop.jobs.entries import Closed, Intake
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

PLACE = f"faults.{DAMPERS}.prior"


def opened(folder, jobs, texts=""):
    """A workshop with closed jobs; ``texts`` stand wherever free text may stand."""
    folder.mkdir(exist_ok=True)
    workshop = Workshop(Store(folder / "shop.db", clock=lambda: at(200)), {FAMILY.id: FAMILY})
    taken = []
    for job in jobs:
        entries = []
        for entry in job.entries:
            body = entry.body
            if texts and isinstance(body, Intake):
                body = replace(
                    body, title=texts, story=texts, maker=texts, model=texts, serial=texts
                )
            if texts and isinstance(body, Closed):
                body = replace(body, note=texts)
            entries.append(replace(entry, body=body, by=texts))
        taken.append(JobFile(tuple(entries)))
    workshop.jobs.add_all(taken)
    return workshop


def run(workshop, *words):
    done = CliRunner().invoke(main, ["pool", *map(str, words)], obj=workshop)
    assert done.exit_code == 0, done.output
    return done.output


def test_given_taken_in_left_again(tmp_path):
    files = []
    for n in range(4):
        shop = opened(tmp_path / f"shop{n}", workshop_of(30, 18, 12))
        files.append(tmp_path / f"{n}.json")
        assert "revision 1" in run(shop, "give", files[-1])
        key = tmp_path / f"shop{n}" / "shop.db.pool" / "key.pem"
        assert key.stat().st_mode & 0o777 == 0o600
    ours = opened(tmp_path / "ours", [])
    assert ours.family(FAMILY.id).faults[DAMPERS].prior == 0.25
    assert "4 can be taken in" in run(ours, "take", *files, "--dry-run")
    assert json.loads(run(ours, "show", "--json"))["workshops"] == []
    told = json.loads(run(ours, "take", *files, "--json"))
    assert len(told["workshops"]) == 4
    assert told["figures"][FAMILY.id] > 3
    pooled = ours.family(FAMILY.id)
    assert 0.3 < pooled.faults[DAMPERS].prior < 0.55
    change = next(each for each in pooled.changes if each.place == PLACE)
    assert re.fullmatch(r"25 % by the catalog, \d+ % by 4 workshops", change.text)
    # again, and in another order, is the same to the last digit
    run(ours, "take", *files[::-1])
    assert ours.family(FAMILY.id).digest == pooled.digest
    learning = CliRunner().invoke(main, ["learning"], obj=ours).output
    assert "4 other workshops count with us" in learning
    # ours come on top of theirs
    ours.jobs.add_all([JobFile(job.entries) for job in workshop_of(2, 8, 4)])
    ours.learning.catch_up(FAMILY.id)
    change = next(e for e in ours.family(FAMILY.id).changes if e.place == PLACE)
    assert re.fullmatch(
        r"25 % by the catalog, \d+ % by 4 workshops, \d+ % after your 14 jobs", change.text
    )
    ours.learning.put_off(FAMILY.id)
    assert ours.family(FAMILY.id) is FAMILY
    ours.learning.go_on(FAMILY.id)
    # all four leave: what is in use is what our jobs alone say
    away = []
    for n in range(4):
        shop = opened(tmp_path / f"shop{n}", [])
        away.append(tmp_path / f"away{n}.json")
        run(shop, "leave", away[-1])
    run(ours, "take", *away, *files)
    alone = opened(tmp_path / "alone", workshop_of(2, 8, 4))
    alone.learning.catch_up(FAMILY.id)
    assert ours.family(FAMILY.id).faults == alone.family(FAMILY.id).faults
    assert ours.family(FAMILY.id).checks == alone.family(FAMILY.id).checks


def test_no_field_of_a_file_can_name_a_job(tmp_path):
    jobs = workshop_of(8, 6, 4)
    first = opened(tmp_path / "first", jobs)
    run(first, "give", tmp_path / "first.json")
    # the same key, other people, machines and words
    (tmp_path / "second" / "shop.db.pool").mkdir(parents=True)
    key = tmp_path / "first" / "shop.db.pool" / "key.pem"
    (tmp_path / "second" / "shop.db.pool" / "key.pem").write_bytes(key.read_bytes())
    second = opened(tmp_path / "second", jobs, texts="Somebody, 5 Some Street")
    run(second, "give", tmp_path / "second.json")
    assert (tmp_path / "first.json").read_bytes() == (tmp_path / "second.json").read_bytes()
    body = json.loads((tmp_path / "first.json").read_text())
    places = {f"faults.{name}.prior" for name in FAMILY.faults}
    for check in FAMILY.checks.values():
        places |= {f"checks.{check.id}.under.{key}.bad" for key in check.under}
        places.add(f"checks.{check.id}.otherwise.bad")
    for repair in FAMILY.repairs.values():
        places |= {f"repairs.{repair.id}.cures.{key}" for key in repair.cures}
    allowed = {
        "format": lambda v: v == "counterpoise pool 1",
        "workshop": lambda v: re.fullmatch(r"[0-9a-f]{64}", v),
        "revision": lambda v: v == 1,
        "quarter": lambda v: re.fullmatch(r"20\d\d-Q[1-4]", v),
        "left": lambda v: v is False,
        "id": lambda v: re.fullmatch(r"[0-9a-f]{32}", v),
        "signature": lambda v: re.fullmatch(r"[A-Za-z0-9+/=]{88}", v),
        "families": lambda v: set(v) == {FAMILY.id} and set(v[FAMILY.id]) <= places,
    }
    assert set(body) == set(allowed)
    for name, holds in allowed.items():
        assert holds(body[name]), name
    for yes, of in body["families"][FAMILY.id].values():
        assert yes % 5 == of % 5 == 0
        assert 0 <= yes <= of
        assert of >= 5


def test_what_cannot_be_given_or_taken_is_said(tmp_path):
    shop = opened(tmp_path / "shop", workshop_of(2, 1, 1))
    for words, said in (
        (["give"], "nothing to give yet"),
        (["leave"], "Nothing was given"),
        (["take", str(tmp_path / "none.json")], "cannot be read"),
    ):
        done = CliRunner().invoke(main, ["pool", *words], obj=shop)
        assert done.exit_code != 0
        assert said in done.output
