"""Phones in the network: strangers can do nothing; a code lets one in; the plain line has the root and no more."""

import html
import ipaddress

import pytest
from fastapi.testclient import TestClient
from tests.web.job.test_phone_recording import GOOD
from tests.web.phone import CAPTURE

from counterpoise.web.app import create_app, create_trust_app
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.addresses import Names
from counterpoise.web.network.certificates import identity
from counterpoise.web.network.pairing import Pairing
from counterpoise.web.pages.workshop.phone import COOKIE
from counterpoise.web.request_limits import loopback

ORIGIN = "https://192.168.7.20:8643"
NAMES = Names(ipaddress.ip_address("192.168.7.20"), ("bench", "bench.local"))


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    return identity(tmp_path_factory.mktemp("keys"), NAMES)


@pytest.fixture
def phones(known):
    return PhoneAccess(known, Pairing(ORIGIN), NAMES, "http://192.168.7.20:8644")


def called(host):
    return host in NAMES.in_address_line


@pytest.fixture
def phone(workshop, phones):
    with TestClient(
        create_app(workshop, called, phones, gated=True), base_url=ORIGIN, follow_redirects=False
    ) as opened:
        yield opened


@pytest.fixture
def own(workshop, phones):
    with TestClient(
        create_app(workshop, loopback, phones),
        base_url="http://localhost:8642",
        follow_redirects=False,
    ) as opened:
        yield opened


def let_in(phone, phones, path="/jobs"):
    return phone.get(phones.pairing.new_code(path).removeprefix(ORIGIN))


PLACES = ["/", "/jobs", "/jobs/1", "/jobs/1/record", "/settings", "/ledger.csv", "/phone", "/api/jobs", "/api/phone",
          "/api/openapi.json", "/nowhere", "/phone/inside"]  # fmt: skip


@pytest.mark.parametrize("path", PLACES)
def test_a_stranger_reads_nothing(phone, number, path):
    answer = phone.get(path)
    assert answer.status_code == 401
    assert "has not been let in" in answer.text
    assert "Veltro" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_a_stranger_writes_nothing(phone, workshop, number):
    assert phone.post(f"/jobs/{number}/notes", data={"text": "x"}).status_code == 401
    assert phone.post("/jobs", data={"family": "bench"}).status_code == 401
    told = phone.put(f"/api/jobs/{number}/record/{CAPTURE}/0", json=GOOD)
    assert told.status_code == 401
    assert set(told.json()) == {"what", "field", "remedy"}
    assert phone.post(f"/api/jobs/{number}/record/{CAPTURE}", json={"parts": 1}).status_code == 401
    assert len(workshop.jobs.get(number).entries) == len(workshop.jobs.lines()) == 1
    assert workshop.uploads.unfinished(number) == {}


@pytest.mark.parametrize("secret", ["", "x", '"', "a" * 5000, "\xff", "=;=,"])
def test_a_made_up_secret_opens_nothing(phone, number, secret):
    headers = {"cookie": f"{COOKIE}={secret}".encode("latin-1")}
    assert phone.get("/jobs", headers=headers).status_code == 401


def test_only_looks_and_root_are_open(phone):
    for path in (
        "/style.css",
        "/sheet.css",
        "/figures.css",
        "/mark.svg",
        "/press.js",
        "/record.js",
        "/keep.js",
        "/motion.js",
        "/root.crt",
    ):
        assert phone.get(path).status_code == 200


def test_a_code_lets_one_phone_in_and_leads_it_on(phone, phones, workshop, number):
    answer = let_in(phone, phones, f"/jobs/{number}/record")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{number}/record")
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-")
    for part in ("HttpOnly", "Secure", "SameSite=lax", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie
    assert phone.get(f"/jobs/{number}/record").status_code == 200
    assert phone.put(f"/api/jobs/{number}/record/{CAPTURE}/0", json=GOOD).status_code == 200
    assert (
        phone.post(
            f"/jobs/{number}/notes", data={"text": "x"}, headers={"origin": ORIGIN}
        ).status_code
        == 303
    )


def test_a_code_seen_by_another_is_of_no_use_to_them(phone, phones, workshop):
    path = phones.pairing.new_code("/jobs").removeprefix(ORIGIN)
    phone.get(path)
    with TestClient(phone.app, base_url=ORIGIN, follow_redirects=False) as another:
        answer = another.get(path)
        assert answer.status_code == 403
        assert "used, or is too old" in answer.text
        assert "set-cookie" not in answer.headers
        assert another.get("/jobs").status_code == 401


@pytest.mark.parametrize("token", ["x", "0" * 32, "%00", "..%2f..%2fjobs", "a" * 101])
def test_a_made_up_code_opens_nothing(phone, token):
    answer = phone.get(f"/phone/in/{token}")
    assert answer.status_code in {401, 403, 404, 422}
    assert "set-cookie" not in answer.headers


def test_wrong_codes_are_slowed_and_a_colleague_behind_the_same_address_comes_in(phone, phones):
    answers = [phone.get(f"/phone/in/wrong{n}") for n in range(9)]
    assert [each.status_code for each in answers] == [403] * 6 + [429] * 3
    assert answers[-1].headers["retry-after"] == "4"
    assert "Wait 4 seconds" in answers[-1].text
    assert let_in(phone, phones).status_code == 303


def test_no_number_of_loads_pushes_out_a_code(own, phone, phones):
    code = phones.pairing.new_code("/jobs/7/record")
    for _ in range(5):
        own.get("/phone")
    for _ in range(500):
        phones.pairing.new_code("/jobs")
    assert phone.get(code.removeprefix(ORIGIN)).headers["location"] == "/jobs/7/record"


def test_a_phone_that_was_let_in_is_still_guarded(phone, phones, workshop, number):
    let_in(phone, phones)
    path = f"/jobs/{number}/notes"
    assert (
        phone.post(path, data={"text": "x"}, headers={"origin": "https://evil.example"}).status_code
        == 403
    )
    assert (
        phone.post(path, data={"text": "x"}, headers={"sec-fetch-site": "cross-site"}).status_code
        == 403
    )
    for host in ("localhost", "192.168.7.21", "evil.example", "bench.evil.example"):
        assert phone.get("/jobs", headers={"host": host}).status_code == 400
    for host in ("192.168.7.20:8643", "bench:8643", "bench.local"):
        assert phone.get("/jobs", headers={"host": host}).status_code == 200
    assert len(workshop.jobs.get(number).entries) == 1


def test_this_computer_shows_a_fresh_code_each_time_and_needs_none(own, phones, number):
    seen = [own.get(f"/jobs/{number}/record").text for _ in range(2)]
    codes = [text.split('class="code" src="', 1)[1].split('"', 1)[0] for text in seen]
    assert codes[0].startswith("data:image/svg+xml")
    assert codes[0] != codes[1]
    assert own.get("/jobs").status_code == 200
    sheet = own.get("/api/phone").json()
    page = html.unescape(own.get("/phone").text)
    assert sheet["ready"]
    assert sheet["fingerprint"] == phones.identity.fingerprint
    assert phones.identity.fingerprint in page
    assert page.count('class="code"') == 2
    for steps in (*sheet["trust"].values(), *sheet["forget"].values()):
        assert all(step in page for step in steps)


def test_a_phone_is_shown_no_code_for_another(phone, phones, number):
    let_in(phone, phones)
    assert 'class="code"' not in phone.get(f"/jobs/{number}/record").text
    assert (
        phone.get("/phone").text.count('class="code"') == 1
    )  # the way to the root, which holds no secret


def test_without_phones_the_pages_say_how(client, number):
    assert "counterpoise serve --phone" in client.get(f"/jobs/{number}/record").text
    assert "counterpoise serve --phone" in client.get("/phone").text
    assert client.get("/api/phone").json()["ready"] is False
    assert client.get("/root.crt").status_code == 404
    assert client.get("/phone/in/anything").status_code == 403


def test_the_plain_line_has_the_root_and_nothing_else(workshop, phones, number):
    app = create_trust_app(phones, workshop.settings, called)
    with TestClient(app, base_url="http://192.168.7.20:8644", follow_redirects=False) as plain:
        page = plain.get("/")
        assert page.status_code == 200
        assert phones.identity.fingerprint in page.text
        assert "/jobs" not in page.text
        root = plain.get("/root.crt")
        assert root.content == phones.identity.root_der
        assert root.headers["content-type"] == "application/x-x509-ca-cert"
        for path in ("/jobs", "/api/jobs", f"/jobs/{number}/record", "/phone/in/x", "/record.js"):
            assert plain.get(path).status_code == 404
        assert plain.post("/").status_code == 405
        assert plain.get("/", headers={"host": "evil.example"}).status_code == 400
        assert plain.get("/style.css").status_code == 200
