"""The shelf on pages and their twins."""

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop


@pytest.fixture
def shop(app, store):
    app.state.workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
    for owner in ("workshop", "customer"):
        app.state.workshop.jobs.open(
            replace(INTAKE, owner=owner, maker="Veltro", model="W 6"), "ada"
        )
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


@pytest.fixture
def lot(shop):
    told = {"kind": "used", "count": 2, "place": "B2", "maker": "Veltro"}
    return shop.post("/api/stock/bench/damper_set", json=told).json()["number"]


def test_pieces_are_received_counted_reserved_and_undone(shop, store):
    form = {"count": "2", "kind": "new", "place": "B2", "cost": "41,50", "by": "Ada"}
    assert shop.post("/stock/bench/pump", data=form).headers["location"] == "/stock/bench/pump"
    assert "B2" in shop.get("/stock").text
    page = shop.get("/stock/bench/pump").text
    assert "2 new, B2" in page
    assert "cost 41.50 EUR each" in page
    last = page.split('name="last" value="')[1].split('"')[0]
    assert (
        shop.post("/stock/lots/1", data={"kind": "counted", "count": "1", "last": last}).status_code
        == 303
    )
    stale = shop.post("/stock/lots/1", data={"kind": "counted", "count": "5", "last": last})
    assert stale.status_code == 409
    shop.post("/stock/lots/1", data={"kind": "reserved", "count": "1", "job": "1"})
    assert "reserved for" in shop.get("/stock/bench/pump").text
    refused = shop.post("/stock/lots/1", data={"kind": "reserved", "count": "1", "job": "2"})
    assert refused.status_code == 422
    assert "1 reserved for job 1" in refused.text
    assert shop.post("/stock/movements/3", data={}).status_code == 303
    assert store.stock.book().lot(1).free == 1
    assert "movement 3 undone" in shop.get("/stock/bench/pump").text


def test_the_twins_do_the_same(shop, lot):
    found = shop.get("/api/stock").json()
    assert [(one["item"], one["pieces"]) for one in found["items"]] == [("damper_set", 2)]
    told = shop.post(
        f"/api/stock/lots/{lot}", json={"kind": "reserved", "count": 1, "job": 1}
    ).json()
    assert told["held"] == [[1, 1]]
    assert shop.get(f"/api/stock/lots/{lot}").json() == told
    assert shop.post("/api/stock/movements/2", json={}).json()["held"] == []
    sheet = shop.get("/api/stock/bench/damper_set").json()
    assert [one["kind"] for one in sheet["movements"]] == ["undone", "reserved", "received"]
    assert shop.get("/api/stock/bench/nothing").status_code == 404
    assert (
        shop.post(f"/api/stock/lots/{lot}", json={"kind": "received", "count": 1}).status_code
        == 422
    )


def test_a_label_leads_to_its_lot(shop, lot):
    assert shop.get(f"/stock/lots/{lot}/label.pdf").content.startswith(b"%PDF")
    assert (
        shop.get(f"/stock/lots/{lot}").headers["location"] == f"/stock/bench/damper_set#lot-{lot}"
    )
    assert shop.get("/stock/lots/99").status_code == 404
    assert shop.get("/stock?item=bench/pump").headers["location"] == "/stock/bench/pump"


def test_parts_off_a_machine_go_on_the_shelf_from_its_page(shop, store):
    assert "Put them on the shelf" in shop.get("/jobs/1/parts").text
    form = {"piece": ["damper_set", "drum"], "place": "C1"}
    assert shop.post("/jobs/1/parts", data=form).headers["location"] == "/stock"
    lots = store.stock.book().lots
    assert [(one.item, one.donor, one.maker, one.place) for one in lots] == [
        ("damper_set", 1, "Veltro", "C1"), ("drum", 1, "Veltro", "C1"),
    ]  # fmt: skip
    assert "off a Veltro W 6, job 1" in shop.get("/stock/bench/damper_set").text
    assert "1 on the shelf already" in shop.get("/jobs/1/parts").text
    assert shop.post("/api/jobs/1/parts", json={"pieces": {"pump": 1}}).status_code == 422


def test_the_bench_says_what_the_shelf_saves_and_the_repair_takes_it(shop, store, lot):
    shop.post("/jobs/1/shelf", data={"what": "reserve"})
    page = shop.get("/jobs/1/steps/repair/replace_dampers").text
    assert "Set of dampers: a used one is on the shelf (B2), 0.00 EUR instead of 46.00 EUR." in page
    assert f'name="taken" value="{lot}:1" checked' in page
    form = {"repair": "replace_dampers", "taken": f"{lot}:1", "last": "1"}
    assert shop.post("/jobs/1/repairs", data=form).status_code == 303
    found = store.stock.book().lot(lot)
    assert (found.pieces, found.held, found.used) == (1, (), ((1, 1),))
    shop.post("/jobs/1/retractions", data={"entry": "2"})
    assert store.stock.book().lot(lot).pieces == 2


def test_a_repair_that_takes_what_is_not_there_is_not_put_down(shop, lot):
    told = {"repair": "replace_dampers", "taken": [{"lot": lot, "count": 3}]}
    assert shop.post("/api/jobs/1/repairs", json=told).status_code == 422
    assert shop.get("/api/jobs/1").json()["last"] == 1
    assert (
        shop.post("/jobs/1/repairs", data={"repair": "replace_dampers", "taken": "x"}).status_code
        == 422
    )


def test_an_estimate_offers_the_ways_to_get_a_part(shop, lot):
    found = shop.get("/api/jobs/1/estimate").json()
    (part,) = found["parts"]
    assert [(way["kind"], way["cost_minor"], way["chosen"]) for way in part["ways"]] == [
        ("new", 4600, False), ("used", 0, True),
    ]  # fmt: skip
    page = shop.get("/jobs/1/estimate").text
    assert "0.00 EUR instead of 46.00 EUR" in page
    assert "used, tested; on the shelf (B2)" in page
    chosen = shop.get("/api/jobs/1/estimate?part=damper_set=new").json()
    assert chosen["estimate"]["net_minor"] - found["estimate"]["net_minor"] == 4600
    assert shop.get("/api/jobs/1/estimate?part=damper_set=old").status_code == 422
    assert shop.get("/jobs/1/estimate?part=pmup=new").status_code == 422


def test_a_customer_is_asked_before_a_used_part_goes_in(shop, store, lot):
    assert "if the customer agrees to it" in shop.get("/jobs/2/estimate").text
    before = shop.get("/api/jobs/2/estimate").json()["estimate"]["net_minor"]
    assert (
        shop.post("/jobs/2/agreement", data={"used_parts": "yes", "last": "1"}).status_code == 303
    )
    after = shop.get("/api/jobs/2/estimate").json()["estimate"]["net_minor"]
    assert before - after == (4600 - 1500) * 1.2
    assert shop.post("/api/jobs/2/agreement", json={"used_parts": False}).json()["entry"] == 3
    assert shop.get("/api/jobs/2/estimate").json()["estimate"]["net_minor"] == before


def test_what_a_customer_agrees_to_is_reserved(shop, store, lot):
    paper = shop.get("/api/jobs/2/quote?used=true").json()
    said = {"answer": "repair_hand_back", "agreed_by": "Mrs Ode", "price_minor": paper["price_minor"], "used": True,
            "repairs": paper["repairs"]}  # fmt: skip
    assert shop.post("/api/jobs/2/quote", json=said).status_code == 201
    assert store.stock.book().lot(lot).held == ((2, 1),)
    assert shop.get("/api/jobs/2/estimate").json()["parts"][0]["ways"][1]["chosen"]
    page = shop.get("/jobs/2/estimate").text
    assert "1 x Set of dampers reserved for this job" in page
    shop.post("/jobs/2/shelf", data={"what": "release"})
    assert store.stock.book().lot(lot).held == ()


def test_reserving_nothing_is_said(shop):
    answer = shop.post("/api/jobs/1/shelf", json={"what": "reserve"})
    assert answer.status_code == 422
    assert "nothing of this work lies on the shelf" in answer.json()["what"]
