"""The first person, signing in, the page of people and signing out, by thumb at 360 px, without a script."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.browser import PHONE, chromium, served
from tests.web.in_browser.test_browser import SMALL, TOO_WIDE
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop
from tests.workshop.people.quick import quick

from counterpoise.web.app import create_app
from counterpoise.workshop.services.people import People
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("people") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": FAMILY})
        workshop.people = People(store, quick())
        workshop.jobs.open(INTAKE, "ada")
        with served(create_app(workshop)) as here:
            yield here, workshop


def looked_at(looker, page):
    """Nothing too small or too wide; in the light and in the dark no rule broken for whoever is signed in."""
    assert page.evaluate(SMALL) == []
    assert page.evaluate(TOO_WIDE) == 0
    looker.context.clear_cookies()
    looker.context.add_cookies(page.context.cookies())
    for scheme in ("light", "dark"):
        looker.emulate_media(color_scheme=scheme)
        looker.goto(page.url)
        broken = Axe().run(looker).response["violations"]
        assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in broken] == []


def test_people_sign_in_by_thumb_without_a_script(place):
    address, workshop = place
    with chromium() as browser:
        page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
        # the rules are looked at by a script, so in a browser beside
        axe = browser.new_context(viewport=PHONE).new_page()
        page.goto(f"{address}/people")
        looked_at(axe, page)
        page.get_by_label("Name").fill("Ada")
        page.get_by_label("PIN or passphrase").fill("271828")
        page.get_by_role("button", name="Add the first owner").click()
        assert "/sign-in" in page.url
        looked_at(axe, page)
        page.get_by_label("Name").fill("ada")
        page.get_by_label("PIN or passphrase").fill("271829")
        page.get_by_role("button", name="Sign in").click()
        assert "do not belong together" in page.get_by_role("alert").inner_text()
        assert page.get_by_label("Name").input_value() == "ada"
        assert page.get_by_label("PIN or passphrase").input_value() == ""
        looked_at(axe, page)
        page.get_by_label("PIN or passphrase").fill("271828")
        page.get_by_role("button", name="Sign in").click()
        assert page.url == f"{address}/people"
        page.get_by_label("Name", exact=True).fill("Ben")
        page.get_by_label("PIN or passphrase", exact=True).last.fill("1234")
        page.get_by_role("button", name="Add", exact=True).click()
        assert "too short or too long" in page.content()
        looked_at(axe, page)
        page.get_by_label("PIN or passphrase", exact=True).last.fill("a long phrase")
        page.get_by_role("button", name="Add", exact=True).click()
        page.locator("main summary").filter(has_text="Ben").click()
        looked_at(axe, page)
        page.goto(f"{address}/jobs/1/evidence")
        page.get_by_label("Note").fill("seen by Ada")
        page.get_by_role("button", name="Add", exact=True).click()
        assert workshop.jobs.get(1).entries[-1].by == "Ada"
        page.goto(f"{address}/people")
        page.get_by_role("button", name="End it").click()
        assert page.url.startswith(f"{address}/sign-in")
