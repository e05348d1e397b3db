def test_the_page_names_work_lines_and_total(client, number):
    page = client.get(f"/jobs/{number}/estimate").text
    found = client.get(f"/api/jobs/{number}/estimate").json()
    assert [work["id"] for work in found["work"]] == ["replace_dampers"]
    assert found["estimate"]["gross_minor"] == (35 + 6 + 12) * 80 * 1.2
    for said in (
        "Replace the set of dampers",
        "Open and close: Top cover",
        "50.88 EUR",
        "Tax of 20 %",
    ):
        assert said in page


def test_another_rate_another_estimate(client, workshop, number):
    workshop.change_settings({"labour_rate_minor": 9600, "tax_percent": 0.0})
    page = client.get(f"/jobs/{number}/estimate").text
    assert "84.80 EUR" in page
    assert "Tax of" not in page


def test_a_repair_that_is_not_known_is_said(client, number):
    for base in ("", "/api"):
        answer = client.get(f"{base}/jobs/{number}/estimate?repair=pray")
        assert answer.status_code == 422
        assert "pray" in answer.text
