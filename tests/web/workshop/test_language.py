import re
from html.parser import HTMLParser

import pytest
from tests.web.workbench import FAMILY

from counterpoise.catalog.loader import families, load_family
from counterpoise.report.languages import tongue
from counterpoise.report.languages.tongue import wanted
from counterpoise.workshop.diagnosis.assessment import Assessment, OptionView
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.services.workshop import Workshop

GERMAN = {"cookie": "language=de"}


class Cautions(HTMLParser):
    """The sentences that stand in a box of cautions, or behind a mark that opens."""

    def __init__(self):
        super().__init__()
        self.inside, self.texts, self.open = False, [], False

    def handle_starttag(self, tag, attrs):
        kind = dict(attrs).get("class", "")
        self.inside = self.inside or kind in {"caution", "minded", "sheet-caution"}
        self.open = self.inside and tag == "li"
        if self.open:
            self.texts.append("")

    def handle_endtag(self, tag):
        self.inside = self.inside and tag != "ul"
        self.open = False

    def handle_data(self, data):
        if self.open:
            self.texts[-1] += data


def fields(page):
    """Names, addresses and places of forms, but the way to the page in another language."""
    return [
        one for one in re.findall(r'(?:name|href|action)="[^"]*"', page) if "language=" not in one
    ]


def cautions(page):
    parser = Cautions()
    parser.feed(page)
    return parser.texts


def unweighed(case):
    """Nothing suspected and nothing advised: the pages of the steps alone are read."""
    return Assessment(
        job=case.job.number, value_minor=0, lower_minor=0, upper_minor=0, minutes_so_far=0.0,
        minutes_expected=0, next=None, why="", stop_reason="Nothing left.", rivals=(), suspects=(),
        options=(OptionView("scrap", "Scrap", 0, 0, 0, "on nothing", best=True),), contest=None, warnings=(),
    )  # fmt: skip


@pytest.fixture
def pages(number):
    return [
        "/jobs", "/jobs/new", "/yard", "/stock", "/prices", "/settings", "/ledger",
        *(f"/jobs/{number}{page}" for page in ("", "/evidence", "/decision", "/steps", "/close", "/sheet", "/measure")),
    ]  # fmt: skip


def test_the_language_is_the_readers_and_the_english_page_is_the_same_as_ever(client, pages):
    for path in pages:
        english = client.get(path).text
        german = client.get(path, headers=GERMAN).text
        assert '<html lang="en"' in english
        assert '<html lang="de"' in german
        assert 'aria-label="Orte"' in german
        assert ">Mehr</summary>" in german
        # fields, addresses and values are the program's own: they are the same in every language
        assert fields(german) == fields(english)


def test_no_caution_is_lost_in_another_language(client, number):
    shown = 0
    steps = [
        f"/steps/{kind}/{key}"
        for kind, keys in (("check", FAMILY.checks), ("repair", FAMILY.repairs))
        for key in keys
    ]
    for path in (f"/jobs/{number}{part}" for part in ("", "/sheet", *steps)):
        english = cautions(client.get(path).text)
        german = cautions(client.get(path, headers=GERMAN).text)
        assert german == [tongue.tongue("de").say(text) for text in english]
        shown += len(english)
    assert shown > 3


@pytest.mark.parametrize("family", families())
def test_every_caution_of_every_family_stands_in_german_before_its_step(family, app, client, store):
    loaded = load_family(family)
    app.state.workshop = Workshop(store, {family: loaded}, unweighed)
    intake = Intake(family, "customer", "Veltro 6", (next(iter(loaded.complaints)),), 6.0, {})
    number = app.state.workshop.jobs.open(intake, "ada").number
    # one step for each caution, so that every caution is seen once
    left, texts = set(loaded.cautions), {}
    entries = [("check", one) for one in loaded.checks.values()]
    entries += [("repair", one) for one in loaded.repairs.values()]
    for kind, entry in entries:
        if not left & set(entry.cautions):
            continue
        left -= set(entry.cautions)
        path = f"/jobs/{number}/steps/{kind}/{entry.id}"
        english = cautions(client.get(path).text)
        german = cautions(client.get(path, headers=GERMAN).text)
        assert len(german) == len(english) >= len(entry.cautions), path
        texts |= dict(zip(english, german, strict=True))
    said = tongue.tongue("de").texts
    for key in {key for _, entry in entries for key in entry.cautions}:
        caution = loaded.cautions[key].text
        assert texts[caution] == said[caution] != caution


def test_a_language_is_picked_and_left_to_the_browser_again(client):
    answer = client.post("/language", data={"language": "de", "back": "/yard"})
    assert answer.headers["location"] == "/yard"
    assert "language=de" in answer.headers["set-cookie"]
    client.cookies.set("language", "de")
    assert '<html lang="de"' in client.get("/jobs").text
    answer = client.post("/language", data={"language": "xx", "back": "//elsewhere"})
    assert answer.headers["location"] == "/jobs"
    assert "language=de" not in answer.headers["set-cookie"]


def test_what_the_browser_wishes_counts_where_nothing_was_picked(client):
    assert (
        '<html lang="de"'
        in client.get("/jobs", headers={"accept-language": "de-AT, en;q=0.5"}).text
    )
    picked = {"accept-language": "de", "cookie": "language=en"}
    assert '<html lang="en"' in client.get("/jobs", headers=picked).text


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ("", "en"),
        ("de", "de"),
        ("fr, de;q=0.8, en;q=0.9", "en"),
        ("fr;q=1, de;q=0.8", "de"),
        ("de;q=much, en", "en"),
        ("../..", "en"),
        ("*", "en"),
    ],
)
def test_the_first_language_of_ours_is_taken(asked, code):
    assert wanted(asked) == code


def test_a_program_is_answered_in_english_whatever_it_accepts(client, number):
    path = f"/api/jobs/{number}"
    assert (
        client.get(path).json()
        == client.get(path, headers={"accept-language": "de", **GERMAN}).json()
    )


def test_what_a_person_typed_is_not_put_into_another_language(client, number):
    form = {"last": "1", "text": "Settings", "by": "More"}
    assert client.post(f"/jobs/{number}/notes", data=form).status_code == 303
    page = client.get(f"/jobs/{number}/evidence", headers=GERMAN).text
    told = page.partition('entries">')[2].partition("</ol>")[0]
    assert "Settings" in told
    assert "Einstellungen" not in told
    assert ", More" in told


def test_a_paper_for_a_customer_is_shown_in_theirs_with_all_that_was_asked_of_it(client, number):
    page = client.get(f"/jobs/{number}/sheet?part=drum%26tub", headers=GERMAN).text
    other = f"/jobs/{number}/sheet?part=drum%26tub&language=en"
    assert f'href="{other.replace("&", "&amp;")}" lang="en">English</a>' in page
    assert '<html lang="en"' in client.get(other, headers=GERMAN).text
    assert "language=de" in client.get(other).text
