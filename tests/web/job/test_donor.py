from dataclasses import replace

import pytest
from tests.web.workbench import FAMILY, INTAKE

from counterpoise.catalog.family import AssemblyEntry


@pytest.fixture
def donor(workshop):
    drum = AssemblyEntry("drum", "Drum", 5000, 30, "invented", {"support_cracked": 1.0})
    foot = AssemblyEntry("foot", "One foot", 100, 5, "invented")
    workshop.families._families["bench"] = replace(FAMILY, assemblies={"foot": foot, "drum": drum})
    return workshop.jobs.open(replace(INTAKE, maker="Veltro", model="W 6", serial="8841")).number


def test_what_is_worth_keeping_comes_first_and_gets_a_label(client, donor):
    found = client.get(f"/api/jobs/{donor}/parts").json()
    assert [(one["id"], one["keep"]) for one in found["parts"]] == [("drum", True), ("foot", False)]
    assert [label["title"] for label in found["labels"]] == [INTAKE.title, "Drum"]
    assert found["labels"][0]["lines"] == ["Veltro W 6", "Serial 8841"]
    page = client.get(f"/jobs/{donor}/parts").text
    assert page.index("Pull the plug") < page.index("30 min to take off") < page.index("One foot")


def test_the_labels_are_a_pdf(client, donor):
    made = client.get(f"/jobs/{donor}/labels.pdf")
    assert made.headers["content-type"] == "application/pdf"
    assert made.content.startswith(b"%PDF")


def test_a_machine_without_parts_has_its_own_label(client, number):
    assert "No part of it repays its minutes" in client.get(f"/jobs/{number}/parts").text
    assert len(client.get(f"/api/jobs/{number}/parts").json()["labels"]) == 1
