"""A machine that came without an owner: by form and as JSON, and what its job then says."""

FORM = {"family": "bench", "owner": "workshop", "title": "From the kerb", "complaints": ["shakes"]}


def test_a_tick_at_intake_is_kept_and_said(client, workshop):
    assert "Nobody to ask" in client.get("/jobs/new?family=bench").text
    assert client.post("/jobs", data=FORM | {"nobody_to_ask": "true"}).status_code == 303
    assert workshop.jobs.get(1).intake.nobody_to_ask
    assert "nobody to ask" in client.get("/jobs/1/evidence").text


def test_as_json_it_may_be_left_out(client, workshop):
    for number, (sent, kept) in enumerate([({}, False), ({"nobody_to_ask": True}, True)], 1):
        assert client.post("/api/jobs", json=FORM | sent).status_code == 201
        assert workshop.jobs.get(number).intake.nobody_to_ask is kept
    assert client.post("/api/jobs", json=FORM | {"nobody_to_ask": "perhaps"}).status_code == 422
