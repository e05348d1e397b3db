"""A phone comes in over TLS by its code, records, loses its way in, comes in again and sends the rest."""

import ipaddress

import pytest
from playwright.sync_api import expect
from tests.web.browser import PHONE, chromium, served
from tests.web.in_browser.test_record_browser import FEEL, begun, come, rows  # noqa: F401  # rows is a fixture
from tests.web.job.test_recording import WITH_SPIN
from tests.web.workbench import INTAKE, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.addresses import Names
from counterpoise.web.network.certificates import identity
from counterpoise.web.network.pairing import Pairing
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser
NAMES = Names(ipaddress.ip_address("127.0.0.1"), ())


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("phone")
    known = identity(folder / "keys", NAMES)
    phones = PhoneAccess(known, Pairing(""), NAMES, "")
    with Store(folder / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": WITH_SPIN})
        app = create_app(workshop, lambda host: host in NAMES.in_address_line, phones, gated=True)
        with served(app, ssl_certfile=known.certificate, ssl_keyfile=known.key) as address:
            phones.pairing.origin = address
            yield workshop, phones


@pytest.fixture(scope="module")
def page(place):
    with chromium() as browser:
        # the root is not among those of this browser; whether the chain verifies is tested where TLS is
        context = browser.new_context(viewport=PHONE, has_touch=True, ignore_https_errors=True)
        yield context.new_page()
        context.close()


def test_a_phone_comes_in_records_and_comes_back(page, place, rows):  # noqa: F811
    workshop, phones = place
    number = workshop.jobs.open(INTAKE, "ada").number
    page.goto(f"{phones.pairing.origin}/jobs/{number}/record")
    assert "has not been let in" in page.inner_text("main")

    page.goto(phones.pairing.new_code(f"/jobs/{number}/record"))
    assert page.url == f"{phones.pairing.origin}/jobs/{number}/record"
    assert page.evaluate("() => isSecureContext")
    cookie = page.context.cookies()[0]
    assert (cookie["httpOnly"], cookie["secure"], cookie["sameSite"]) == (True, True, "Lax")
    assert page.evaluate("() => document.cookie") == ""

    page.wait_for_selector("html[data-ready=yes]")
    begun(page, rows)
    page.evaluate(FEEL, rows[:1800])
    come(page, workshop, number, 10)
    phones.pairing._sessions.clear()  # the workshop's computer was started anew
    page.evaluate(FEEL, rows[1800:3600])
    expect(page.get_by_role("alert")).to_contain_text("Scan the code", timeout=20_000)
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#kept")).to_contain_text("60 s in 20 pieces", timeout=20_000)

    page.goto(phones.pairing.new_code(f"/jobs/{number}/record"))
    page.wait_for_selector("html[data-ready=yes]")
    with page.expect_navigation(timeout=30_000):
        page.get_by_role("button", name="Send it now").click()
    assert f"/jobs/{number}/recording/" in page.url
    expect(page.locator("main")).to_contain_text("transit bolts")
    assert workshop.uploads.unfinished(number) == {}
