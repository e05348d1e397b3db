import pytest

from counterpoise.report.views import ledger as ledger_view


def test_the_month_as_page_table_and_twin(client, number):
    client.post(f"/api/jobs/{number}/close", json={"ending": "hand_back", "received_minor": 3600})
    found = client.get("/api/ledger").json()
    assert found["month"] == "2026-03"
    assert (found["received_minor"], found["tax_minor"]) == (3600, 600)
    page = client.get("/ledger").text
    assert "Ledger of 2026-03" in page
    assert "36.00 EUR received" in page
    assert 'href="/ledger?month=2026-02"' in page
    table = client.get("/ledger.csv?month=2026-03")
    assert table.headers["content-disposition"] == 'attachment; filename="ledger-2026-03.csv"'
    assert table.text.splitlines()[1].startswith(f"{number},2026-03-01,")


def test_the_year_at_a_glance_has_the_sums_of_each_month(client, store, number, monkeypatch):
    client.post(f"/api/jobs/{number}/close", json={"ending": "hand_back", "received_minor": 3600})
    months = client.get("/api/ledger/year").json()
    assert [month["month"] for month in months[:3]] == ["2026-03", "2026-02", "2026-01"]
    assert len(months) == 12
    this, ledger = months[0], client.get("/api/ledger").json()
    assert this["closed"] == 1
    assert this["received_minor"] - this["cost_minor"] == ledger["margin_minor"]
    assert this["bench_minutes"] == ledger["bench_minutes"]
    page = client.get("/ledger").text
    assert 'href="/ledger?month=2026-03" aria-current="page"' in page
    assert "Mar 2026: 36.00 received" in page
    # the month itself is drawn too, with what is left
    assert "Left over" in page[page.index("<svg") :]
    # a month without a job is no row, and can be asked for
    assert 'href="/ledger?month=2025-07"' not in page
    assert "No job was closed" in client.get("/ledger?month=2025-07").text
    assert client.get("/api/ledger/year?month=soon").status_code == 422


def test_a_long_year_is_added_up_in_pieces(client, workshop, number, monkeypatch):
    monkeypatch.setattr(ledger_view, "MOST_NEW", 0)
    client.post(f"/api/jobs/{number}/close", json={"ending": "hand_back", "received_minor": 3600})
    assert not client.get("/api/ledger/year").json()[0]["known"]
    # once a page was sent the rest is added up, and the next look has it
    assert "Add up the rest" in client.get("/ledger").text
    assert "Add up the rest" not in client.get("/ledger").text
    assert client.get("/api/ledger/year").json()[0]["known"]
    assert client.get("/api/ledger/year").json()[0]["received_minor"] == 3600


def test_a_month_without_jobs(client):
    assert "No job was closed in this month" in client.get("/ledger").text


@pytest.mark.parametrize("month", ["2026-13", "0000-01", "soon"])
def test_a_month_that_cannot_be(client, month):
    assert client.get(f"/ledger?month={month}").status_code == 422
