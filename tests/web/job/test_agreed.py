"""What is agreed for one job: discounts, call-out, a machine that came back."""

import pytest


def closed(client, number):
    client.post(f"/api/jobs/{number}/repairs", json={"repair": "replace_dampers"})
    client.post(f"/api/jobs/{number}/proofs", json={"passed": True})
    client.post(
        f"/api/jobs/{number}/close", json={"ending": "repair_hand_back", "received_minor": 5088}
    )


def test_a_discount_goes_from_the_estimate_to_the_answer(client, workshop, number):
    page = client.get(f"/jobs/{number}/estimate?discount=10%25&discount_on=replace_dampers").text
    assert "Discount on replace the set of dampers" in page
    assert "discount=replace_dampers%3A10%25" in page
    off = {"discount": "replace_dampers:10%"}
    found = client.get(f"/api/jobs/{number}/estimate", params=off).json()
    assert found["discounts"] == ["replace_dampers:10%"]
    price = found["estimate"]["payable_minor"]
    assert price == round((53 - 3.5) * 96)
    assert "replace_dampers:10%" in client.get(f"/jobs/{number}/quote", params=off).text
    sent = {
        "answer": "repair_hand_back",
        "agreed_by": "Mrs Ode",
        "price_minor": price,
        "repairs": ["replace_dampers"],
    }
    assert client.post(f"/api/jobs/{number}/quote", json=sent).status_code == 409
    agreed = sent | {"discounts": ["replace_dampers:10%"]}
    assert client.post(f"/api/jobs/{number}/quote", json=agreed).status_code == 201
    kept = workshop.jobs.get(number).decision
    assert kept.agreed_minor == price
    assert any(text.startswith("What it costs: ") for text in kept.quote_words)


def test_a_discount_that_cannot_be_is_said(client, number):
    answer = client.get(f"/jobs/{number}/estimate?discount=lots")
    assert answer.status_code == 422
    assert "lots" in answer.text


def test_call_out_where_it_is_worked_on_at_the_owners_place(client, workshop):
    told = {"family": "bench", "owner": "customer", "complaints": ["shakes"], "away": True}
    number = client.post("/api/jobs", json=told).json()["job"]
    lines = client.get(f"/api/jobs/{number}/estimate").json()["estimate"]["lines"]
    assert [line["net_minor"] for line in lines if line["kind"] == "callout"] == [
        workshop.settings().callout_minor
    ]


def test_a_machine_that_came_back_is_mended_free_and_the_ledger_keeps_both(
    client, workshop, number
):
    closed(client, number)
    page = client.get(f"/jobs/{number}").text
    assert "The machine came back" in page
    seen = workshop.jobs.get(number)
    form = {
        "entry": str(seen.entries[-1].number),
        "comeback": "true",
        "why": "shakes again",
        "back": "bench",
    }
    assert (
        client.post(f"/jobs/{number}/retractions", data=form | {"last": form["entry"]}).status_code
        == 303
    )
    found = client.get(f"/api/jobs/{number}/estimate").json()
    assert (found["free"], found["estimate"]["payable_minor"]) == (True, 0)
    assert found["own_minor"] > 0
    assert "free to the customer" in client.get(f"/jobs/{number}/estimate").text
    passages = client.get(f"/api/jobs/{number}/quote").json()["passages"]
    first_sentences = {passage["title"]: passage["sentences"][0] for passage in passages}
    assert first_sentences["What it costs"].endswith("costs you nothing.")
    assert (
        client.get(f"/api/jobs/{number}/estimate?charged=true").json()["estimate"]["payable_minor"]
        > 0
    )
    client.post(f"/api/jobs/{number}/repairs", json={"repair": "replace_dampers", "minutes": 20})
    client.post(
        f"/api/jobs/{number}/close", json={"ending": "repair_hand_back", "received_minor": 0}
    )
    months = client.get("/api/ledger").json()
    assert [line["received_minor"] for line in months["lines"]] == [5088, 0]
    assert (
        months["guarantee_minor"]
        == months["lines"][1]["guarantee_minor"]
        == -months["lines"][1]["margin_minor"]
    )
    assert "under our guarantee" in client.get("/ledger").text


def test_only_what_was_handed_over_comes_back(client, workshop, number):
    workshop.jobs.record(number, workshop.jobs.get(number).intake)
    answer = client.post(f"/api/jobs/{number}/retractions", json={"entry": 1, "comeback": True})
    assert answer.status_code == 422
    assert "handed over" in answer.text


@pytest.mark.parametrize("day", ["soon", "2026-02-30"])
def test_parts_due_on_a_day_that_cannot_be(client, number, day):
    assert (
        client.post(
            f"/api/jobs/{number}/notes", json={"text": "ordered", "parts_due": day}
        ).status_code
        == 422
    )


def test_parts_due_are_shown(client, workshop, number):
    client.post(
        f"/api/jobs/{number}/notes", json={"text": "Dampers ordered", "parts_due": "2026-03-05"}
    )
    assert workshop.jobs.get(number).parts_due == "2026-03-05"
    assert "Parts due 5 Mar 2026." in client.get(f"/jobs/{number}/evidence").text


def test_mend_or_buy_stands_beside_the_ways(client, workshop, number):
    found = client.get(f"/api/jobs/{number}/decision").json()["against_new"]
    assert [rule["id"] for rule in found["rules"]] == ["years_left", "half"]
    assert found["rules"][1]["limit_minor"] == workshop.settings().new_machine_minor / 2
    assert found["pays"] == (found["yearly_repaired_minor"] < found["yearly_new_minor"])
    page = client.get(f"/jobs/{number}/decision").text
    assert found["sentences"][0] in page
    assert "Half of a new one" in page
    own = {"family": "bench", "owner": "workshop", "complaints": ["shakes"]}
    mine = client.post("/api/jobs", json=own).json()["job"]
    assert client.get(f"/api/jobs/{mine}/decision").json()["against_new"] is None


def test_a_closed_job_is_not_decided_again(client, number):
    assert "Save the decision" in client.get(f"/jobs/{number}/decision").text
    closed(client, number)
    page = client.get(f"/jobs/{number}/decision").text
    assert "The job is closed." in page
    assert "Save the decision" not in page
