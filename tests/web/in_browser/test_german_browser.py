"""German words are longer: the pages stay as wide as the phone."""

import pytest
from tests.web.browser import PHONE, chromium, served
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser


def test_no_page_of_a_job_is_wider_than_the_phone_in_german(tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": FAMILY})
        number = workshop.jobs.open(INTAKE, "ada").number
        with served(create_app(workshop)) as address, chromium() as browser:
            page = browser.new_page(viewport=PHONE, extra_http_headers={"accept-language": "de"})
            wide = {}
            for part in ("", "/decision", "/close", "/steps", "/evidence", "/measure"):
                page.goto(f"{address}/jobs/{number}{part}")
                assert page.evaluate("document.documentElement.lang") == "de"
                if (width := page.evaluate("document.documentElement.scrollWidth")) > 360:
                    wide[part] = width
            assert wide == {}
