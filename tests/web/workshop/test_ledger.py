import pytest


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


def test_a_month_without_jobs(client):
    assert "No job was closed in this month" in client.get("/ledger").text


@pytest.mark.parametrize("month", ["2026-13", "0000-01", "soon"])
def test_a_month_that_cannot_be(client, month):
    assert client.get(f"/ledger?month={month}").status_code == 422
