"""A job with an entry that cannot be read: its page says what is wrong and what to do, the list goes on."""

import sqlite3

from tests.web.workbench import INTAKE

from counterpoise.workshop.jobs.entries import Note


def test_its_page_says_what_to_do_and_the_list_shows_the_rest(client, workshop, number, tmp_path):
    other = workshop.jobs.open(INTAKE, "ada").number
    workshop.jobs.record(other, Note("looked at"))
    raw = sqlite3.connect(tmp_path / "workshop.db")
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("UPDATE entries SET body = '{' WHERE job = ? AND number = 2", (other,))
    raw.commit()
    raw.close()
    page = client.get(f"/jobs/{other}")
    assert page.status_code == 503
    assert f"job {other}" in page.text
    assert "The other jobs are whole" in page.text
    told = client.get(f"/api/jobs/{other}").json()
    assert "cannot be read" in told["what"]
    assert "restore the newest backup" in told["remedy"]
    listed = client.get("/jobs").text
    assert "This job cannot be read" in listed
    assert f'href="/jobs/{number}"' in listed
    assert client.get(f"/jobs/{number}").status_code == 200
    assert client.get("/yard").status_code == 200
    # nothing is written to what cannot be read
    refused = client.post(f"/api/jobs/{other}/notes", json={"text": "more"})
    assert refused.status_code == 503
