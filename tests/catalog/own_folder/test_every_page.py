"""A family from a file: its jobs are planned, priced, quoted and played to their end, and every page of them opens."""

import html
import itertools
import re

import pytest
from fastapi.testclient import TestClient
from tests.workshop.forbidding import forbidding

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Closed, Finding, Intake, Proof, RepairDone
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

TRULY = "mounts_torn:one"  # what the machine of the story has
LINK = re.compile(r'(?:href|src|action)="([^"]+)"')


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    folder, ticks = tmp_path_factory.mktemp("own"), itertools.count()

    def now():
        return f"2026-03-01T09:00:{next(ticks) % 60:02}Z"

    with Store(folder / "workshop.db", now) as store:
        yield Workshop(store, {"spin_dryer": forbidding(folder)})


@pytest.fixture(scope="module")
def client(shop):
    app = create_app(None)
    app.state.workshop = shop
    with TestClient(app, base_url="http://localhost") as opened:
        yield opened


def likeliest(check, fault):
    """The answer that a check mostly gives under a fault: what a row leaves over is the first."""
    row = dict(check.under.get(fault, check.otherwise))
    first = next(iter(check.outcomes))
    row[first] = 1.0 - sum(chance for answer, chance in row.items() if answer != first)
    return max(row, key=row.get)


def play(shop, owner):
    """A machine taken in and worked on as advised until it is repaired and handed over."""
    number = shop.jobs.open(Intake("spin_dryer", owner, "Dryer", ("shakes",), 8.0)).number
    family, repaired = shop.family("spin_dryer"), False
    for _ in range(12):
        step = shop.snapshot(number).assessment.next
        if step.kind == "check":
            answer = likeliest(family.checks[step.id], TRULY)
            shop.jobs.record(number, Finding(step.id, answer))
        elif step.kind == "repair":
            shop.jobs.record(number, RepairDone(step.id))
            repaired = repaired or family.repairs[step.id].cures.get(TRULY, 0.0) > 0.5
        elif step.kind == "proof":
            shop.jobs.record(number, Proof(repaired))
        else:
            return number, step.id, repaired
    pytest.fail("no end in twelve steps")


@pytest.mark.parametrize("owner", ["customer", "workshop"])
def test_a_story_is_played_to_its_end(shop, owner):
    number, ending, repaired = play(shop, owner)
    # an old one of the workshop's own may be worth more in parts; a customer's is mended
    assert repaired == ending.startswith("repair")
    assert repaired or owner == "workshop"
    received = 6000 if repaired else 0
    shop.jobs.record(number, Closed(ending, (TRULY,), received_minor=received))
    assert shop.jobs.get(number).closed


def test_it_is_priced_and_quoted(shop, client):
    number = shop.jobs.open(Intake("spin_dryer", "customer", "Dryer", ("shakes",), 8.0)).number
    shop.jobs.record(number, Finding("basket_hang", "off"))
    shop.jobs.record(number, Finding("look_basket", "whole"))
    quote = client.get(f"/api/jobs/{number}/quote?repair=new_mounts").json()
    assert quote["price_minor"] > 1600
    assert quote["ceiling_minor"] >= quote["price_minor"]


def test_every_page_that_a_link_leads_to_opens(shop, client):
    """All pages of open and closed jobs, a customer's and the workshop's own."""
    for owner, findings in (
        ("customer", [("look_basket", "crack")]),
        ("workshop", [("basket_hang", "off")]),
    ):
        number = shop.jobs.open(Intake("spin_dryer", owner, "Dryer", ("shakes",), 8.0)).number
        for check, answer in findings:
            shop.jobs.record(number, Finding(check, answer))
    waiting, seen = ["/", "/jobs/new"], set()
    while waiting:
        path = waiting.pop()
        answer = client.get(path)
        assert answer.status_code == 200, (path, answer.text[:300])
        if "html" not in answer.headers["content-type"]:
            continue
        assert not re.search(r"\bNone\b", re.sub(r"<[^>]*>", " ", answer.text)), path
        for link in LINK.findall(answer.text):
            where = html.unescape(link).partition("#")[0]
            plain = where.partition("?")[0]
            # every page of the jobs, once each; a form is sent, not opened
            if not plain.startswith("/jobs/") or plain in seen:
                continue
            seen.add(plain)
            if f'action="{link}"' not in answer.text:
                waiting.append(where)
    assert len(seen) > 60
