from dataclasses import replace

from tests.web.workbench import INTAKE


def test_the_yard_ranks_what_waits_and_leaves_out_what_is_closed(client, workshop, number):
    other = workshop.jobs.open(replace(INTAKE, title="Second", promised="2026-02-20")).number
    closed = workshop.jobs.open(INTAKE).number
    client.post(f"/api/jobs/{closed}/close", json={"ending": "scrap"})
    found = client.get("/api/yard").json()
    assert {job["number"] for job in found["bench"]} == {number, other}
    first = found["bench"][0]
    assert (first["number"], first["gain_minor"]) == (other, 9600 - 6000)
    late, waits = workshop.settings().late_day_minor, workshop.settings().waiting_day_minor
    hourly = [job["per_hour_minor"] for job in found["bench"]]
    assert hourly == [round((3600 + late + waits) * 60 / 40), round((3600 + waits) * 60 / 40)]
    assert found["late"] == [other]
    page = client.get("/yard").text
    for said in (
        "56 EUR an hour for the customer",
        "late: promised for 20 Feb 2026",
        "worth 89 EUR to customers more",
    ):
        assert said in page


def test_our_own_money_stands_apart_from_a_customers_benefit(client, workshop, number):
    workshop.jobs.open(replace(INTAKE, owner="workshop"))
    yard = client.get("/api/yard?hours=4").json()
    shares = {
        owner: sum(
            job["gain_minor"] + job["delay_minor"] for job in yard["fits"] if job["owner"] == owner
        )
        for owner in ("workshop", "customer")
    }
    assert min(shares.values()) > 0
    assert yard["fits_own_minor"] == shares["workshop"]
    assert yard["fits_customers_minor"] == shares["customer"]
    assert yard["fits_minor"] == sum(shares.values())
    page = client.get("/yard?hours=4").text
    assert " to us and " in page
    assert " to customers more than leaving them" in page
    assert "an hour for us" in page
    assert "an hour for the customer" in page


def test_the_hours_bound_what_is_taken(client, workshop, number):
    workshop.jobs.open(INTAKE)
    assert len(client.get("/api/yard?hours=1").json()["fits"]) == 1
    assert len(client.get("/api/yard?hours=1.4").json()["fits"]) == 2
    assert "Nothing that is worth its time" in client.get("/yard?hours=0.5").text
    assert client.get("/yard?hours=-1").status_code == 422


def test_an_empty_yard(client):
    assert "No machine waits for the bench" in client.get("/yard").text


def test_a_day_promised_is_kept_and_a_wrong_one_refused(client, workshop):
    form = {
        "family": "bench",
        "owner": "customer",
        "complaints": "shakes",
        "promised": "2026-03-05",
    }
    assert client.post("/jobs", data=form).status_code == 303
    assert workshop.jobs.get(1).intake.promised == "2026-03-05"
    assert "promised for 5 Mar 2026" in client.get("/jobs/1").text
    assert client.post("/jobs", data=form | {"promised": "5 March"}).status_code == 422
    assert client.post("/jobs", data=form | {"promised": "2026-02-30"}).status_code == 422
    assert len(workshop.jobs.lines()) == 1


def test_what_waits_for_parts_is_listed_apart(client, workshop, number):
    client.post(
        f"/api/jobs/{number}/notes", json={"text": "Dampers ordered", "parts_due": "2026-03-09"}
    )
    found = client.get("/api/yard").json()
    assert ([job["number"] for job in found["waits"]], found["bench"], found["fits"]) == (
        [number],
        [],
        [],
    )
    assert "due 9 Mar 2026" in client.get("/yard").text
