"""A workshop played through its pages, and all that its pages then show: for comparing two stores."""

import io
import re

from fastapi.testclient import TestClient
from PIL import Image
from tests.web.workbench import STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app

PAGES = (
    "/jobs", "/jobs?state=closed", "/jobs?q=veltro", "/jobs/1", "/jobs/1/evidence", "/jobs/1/decision",
    "/jobs/1/estimate", "/jobs/1/sheet", "/jobs/1/close", "/jobs/1/recording", "/jobs/2", "/jobs/2/evidence", "/yard",
    "/stock", "/stock/bench/pump", "/stock/bench/damper_set", "/prices", "/prices.csv", "/settings", "/ledger",
    "/ledger.csv?month=2026-03", "/learning?family=bench", "/families", "/api/jobs", "/api/jobs/1", "/api/jobs/2",
    "/api/jobs/1/evidence", "/api/stock", "/api/prices", "/api/settings", "/api/ledger", "/api/yard",
)  # fmt: skip
# keys of forms are drawn anew for each showing
_KEY = re.compile(rb'name="_key" value="[^"]*"')


def opened(store):
    app = create_app(ForeseeableWorkshop(store, {"bench": STOCKED}))
    return TestClient(app, base_url="http://localhost", follow_redirects=False)


def _photo():
    with io.BytesIO() as file:
        Image.new("RGB", (40, 30), (200, 120, 40)).save(file, "PNG")
        return file.getvalue()


def _said(answer):
    return (
        " ".join(
            re.findall(
                r'class="(?:fault|refused|error|problem)[^>]*>(.*?)</', answer.text, re.DOTALL
            )
        )
        or answer.text[:3000]
    )


def play(client):
    """Two jobs, a price list, pieces on the shelf, a changed rate; one job to its end, all by the pages."""

    def post(path, form, expected=303, **more):
        answer = client.post(path, data=form, **more)
        assert answer.status_code == expected, (path, answer.status_code, _said(answer))
        return answer

    intake = {"family": "bench", "owner": "customer", "complaints": ["shakes"], "age_years": "6", "by": "ada"}  # fmt: skip
    post(
        "/jobs",
        intake
        | {"title": "Veltro 6", "contact": "Mrs Ode, 555 0143", "story": "Walks – loud, „knocks“."},
    )
    post("/jobs", intake | {"title": "Quarrow 714", "complaints": ["walks"]})
    assert (
        client.post("/api/settings", json={"changes": {"labour_rate_minor": 5200}}).status_code
        == 200
    )
    list_ = {"file": ("list.csv", b"part;price\nbench/damper_set;44,00\n")}
    page = post("/prices/preview", {"supplier": "Nordlicht"}, 200, files=list_).text
    held = {n: page.split(f'name="{n}" value="')[1].split('"')[0] for n in ("held", "last")}
    post("/prices/import", held)
    post("/stock/bench/damper_set", {"count": "2", "kind": "new", "place": "B2", "cost": "41,50"})
    post("/stock/lots/1", {"kind": "reserved", "count": "1", "job": "1"})
    finding = {"check": "new_place", "outcome": "no", "last": "1", "_key": "k" * 32}
    # a double tap is written once
    post("/jobs/1/findings", finding)
    post("/jobs/1/findings", finding)
    post("/jobs/1/findings", {"check": "play", "reading": "0,8", "outcome": "", "last": "2"})
    post("/jobs/1/findings", {"check": "drum_by_hand", "outcome": "with_tub", "last": "2"}, 409)
    post(
        "/jobs/1/retractions", {"entry": "3", "last": "3", "back": "bench", "why": "gauge slipped"}
    )
    post(
        "/jobs/1/notes", {"text": "as it stood", "last": "4"}, files={"photos": ("a.png", _photo())}
    )
    spin = b"t,x,y,z\n" + b"".join(b"%.2f,0.1,0.2,9.81\n" % (n / 50) for n in range(400))
    post("/jobs/2/recording", {"last": "1"}, 303, files={"recording": ("spin.csv", spin)})
    post(
        "/jobs/1/decision",
        {"option": "repair_hand_back", "agreed": "120", "why": "by telephone", "last": "5"},
    )
    post(
        "/jobs/1/repairs", {"repair": "replace_dampers", "minutes": "35", "lot.1": "1", "last": "6"}
    )
    post("/jobs/1/proofs", {"passed": "yes", "last": "7"})
    post(
        "/jobs/1/close",
        {"ending": "repair_hand_back", "received": "120", "seen": "damper_worn:gone", "last": "8"},
    )


def shown(client):
    """Every page by its address: status and bytes, the keys of forms left out."""
    answers = {path: client.get(path) for path in PAGES}
    return {path: (a.status_code, _KEY.sub(b"", a.content)) for path, a in answers.items()}
