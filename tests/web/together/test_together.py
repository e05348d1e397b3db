"""Two browsers at one job, on the server's side: who is there, what is new to each, what costs no look at the evidence."""

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import INTAKE

from counterpoise.workshop.jobs.entries import Finding, Note
from counterpoise.workshop.people.presence import GONE_S, Presence


@pytest.fixture
def phone(app, client):
    """A second browser, in which Ines has typed her name."""
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        opened.cookies.set("hand", "Ines")
        yield opened


def head(page):
    """What stands in the head of a page on others."""
    return page.text.partition('id="together"')[2].partition("</div>")[0]


def test_the_next_page_says_who_is_there_and_what_they_put_down(client, phone, workshop, number):
    path = f"/jobs/{number}"
    assert "Also here" not in head(client.get(path))
    assert "somebody" in head(phone.get(path))
    form = {"check": "play", "reading": "2", "last": "1", "by": "Ines", "_key": "k"}
    assert phone.post(f"{path}/findings", data=form).status_code == 303
    seen = head(client.get(path))
    assert "<b>Ines</b>" in seen.partition("news")[0]
    assert "put down:</span> Measure the play at the rim: <b>2 mm: Much</b>" in seen
    # said once, and never of what one put down oneself
    assert "put down" not in head(client.get(path))
    assert "put down" not in head(phone.get(path))
    assert "Ines is at it" in client.get("/jobs").text
    assert "Ines is at it" not in phone.get("/jobs").text


def test_a_name_and_a_note_are_shown_as_they_were_typed(client, workshop, number):
    client.get(f"/jobs/{number}")
    workshop.presence.sign("somebody else", number, "<b>Settings</b>")
    for text in ("More", "<script>", "Shelf", "last of all"):
        workshop.jobs.record(number, Note(text), "<i>Jobs</i>")
    seen = head(client.get(f"/jobs/{number}", headers={"accept-language": "de"}))
    assert "&lt;b&gt;Settings&lt;/b&gt;" in seen
    assert "<b>&lt;i&gt;Jobs&lt;/i&gt;</b>" in seen
    assert "&lt;script&gt;" in seen
    assert "Shelf" in seen
    assert "Alles Neue steht unter Befunde." in seen
    assert ">More<" not in seen.replace(" ", "")


def test_asking_what_is_new_reads_no_evidence_until_there_is_some(
    client, phone, workshop, number, monkeypatch
):
    path = f"/jobs/{number}/now"
    client.get(f"/jobs/{number}")
    with monkeypatch.context() as blind:
        blind.setattr(workshop.store.jobs, "get", None)
        first = client.get(path, params={"since": 1})
        assert (first.status_code, first.text.strip()) == (200, "")
        known = {"if-none-match": first.headers["etag"]}
        again = client.get(path, params={"since": 1}, headers=known)
        assert (again.status_code, again.content) == (304, b"")
        twin = client.get(f"/api{path}", params={"since": 1}).json()
        assert twin == {"number": number, "last": 1, "here": [], "added": []}
    # whoever brings no word of a browser is a program, and at no machine
    phone.get(path)
    phone.get(f"/api{path}")
    assert client.get(path, params={"since": 1}, headers=known).status_code == 304
    workshop.jobs.record(number, Finding("new_place", "yes"), "piet")
    news = client.get(path, params={"since": 1}, headers=known)
    assert news.status_code == 200
    assert (
        "<b>piet</b> <span>put down:</span> Ask whether it was moved: <b>Yes, it was moved</b>"
        in (news.text)
    )
    added = client.get(f"/api{path}", params={"since": 1}).json()["added"]
    assert [(line["number"], line["by"], line["result"]) for line in added] == [
        (2, "piet", "Yes, it was moved")
    ]
    assert client.get(f"/api{path}", params={"since": -1}).status_code == 422


def test_whoever_gives_no_sign_is_gone_and_a_browser_is_at_one_machine(workshop):
    now = [100.0]
    presence = Presence(lambda: now[0])
    presence.sign("a", 1, "Ines")
    presence.sign("b", 1, "Ines")
    presence.sign("c", 1, "")
    presence.sign("c", 2, "")
    assert presence.here(1, "a") == ("", "Ines")
    presence.moved("c", 2)
    assert presence.everywhere("b") == {1: ("Ines",), 2: ("",)}
    now[0] += GONE_S - 1
    presence.sign("a", 1, "Ines")
    now[0] += 2
    assert presence.everywhere() == {1: ("Ines",)}
    now[0] += GONE_S
    assert presence.everywhere() == {}
    # a flood of made-up browsers costs no more memory than some hundred
    for n in range(3000):
        presence.sign(f"x{n}", 1, f"x{n}")
        presence.read(f"x{n}", 1, 5)
    assert len(presence.here(1)) == 500
    assert presence.read("x2999", 1, 8) == 5
    assert presence.read("x0", 1, 8) == 8


def test_a_script_is_told_the_entry_and_where_to_go_and_a_refusal_stays_a_page(
    client, workshop, number
):
    path, short = f"/jobs/{number}/findings", {"prefer": "return=minimal"}
    form = {"check": "new_place", "outcome": "no", "last": "1", "_key": "k", "by": "Ines"}
    first, second = (client.post(path, data=form, headers=short) for _ in range(2))
    for answer in (first, second):
        assert (answer.status_code, answer.headers["location"]) == (204, f"/jobs/{number}")
        assert answer.headers["x-entry"] == "2"
        assert "hand=Ines" in answer.headers["set-cookie"]
    assert client.post(path, data=form).status_code == 303
    stale = client.post(path, data=form | {"_key": "l", "outcome": "yes"}, headers=short)
    assert stale.status_code == 409
    assert "Save mine too" in stale.text
    wrong = form | {"_key": "m", "last": "2", "check": "none"}
    assert client.post(path, data=wrong, headers=short).status_code == 422
    # the very same under another key is known as that
    same = client.post(path, data=form | {"_key": "n"}, headers=short)
    assert same.status_code == 204
    assert len(workshop.jobs.get(number).entries) == 2
    other = workshop.jobs.open(INTAKE).number
    assert "put down" not in head(client.get(f"/jobs/{other}"))
