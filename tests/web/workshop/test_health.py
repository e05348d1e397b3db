"""What watches over the computer asks one address for the version and the state of the store."""

from importlib.metadata import version

import pytest

from counterpoise.errors import StoreError


def test_health_tells_the_version_and_that_the_store_can_be_read(client):
    answer = client.get("/health")
    assert answer.status_code == 200
    assert answer.json() == {"version": version("counterpoise"), "store": "ready"}
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"


def test_health_is_503_and_still_json_where_the_store_cannot_be_read(
    client, workshop, monkeypatch, caplog
):
    def broken():
        raise StoreError("The store at /srv/secret.db cannot be read")

    monkeypatch.setattr(workshop, "settings", broken)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json() == {"version": version("counterpoise"), "store": "unavailable"}
    assert "secret" not in answer.text
    assert "secret" in caplog.text


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_health_takes_nothing(client, method):
    assert getattr(client, method)("/health").status_code == 405


def test_health_is_described_for_programs(app):
    described = app.openapi()["paths"]["/health"]["get"]
    assert described["tags"] == ["health"]
    for status in ("200", "503"):
        schema = described["responses"][status]["content"]["application/json"]["schema"]
        assert schema == {"$ref": "#/components/schemas/Health"}
