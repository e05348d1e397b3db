def test_what_a_guarantee_costs(client):
    found = client.get("/api/guarantee?family=bench&age=6&price=5").json()
    assert {one["repair"] for one in found["repairs"]} >= {"replace_dampers"}
    one = next(one for one in found["repairs"] if one["repair"] == "replace_dampers")
    page = client.get("/guarantee?family=bench&age=6&price=5").text
    assert one["title"] in page
    assert f"{one['price_minor'][1] / 100:.2f}</b>" in page
    assert found["price_minor"] == 500
    assert 0 <= one["longest_months"] <= 60
    assert (
        len(client.get("/api/guarantee?family=bench&repair=replace_dampers").json()["repairs"]) == 1
    )


def test_what_cannot_be_is_said(client):
    for wrong in ("age=90&family=bench", "age=x", "family=pram", "family=bench&price=dear"):
        assert client.get(f"/guarantee?{wrong}").status_code == 422, wrong
    assert client.get("/api/guarantee?family=bench&repair=pray").status_code == 422
