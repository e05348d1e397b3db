"""Light or dark: a form, a cookie, the same page again; no script anywhere."""

import pytest


def test_a_look_is_kept_in_the_browser_and_leads_back(client, number):
    answer = client.post("/theme", data={"theme": "dark", "back": f"/jobs/{number}/evidence"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{number}/evidence")
    cookie = answer.headers["set-cookie"]
    assert "theme=dark" in cookie
    assert "HttpOnly" in cookie
    text = client.get(f"/jobs/{number}").text
    assert '<html lang="en" data-theme="dark">' in text
    assert 'name="theme" value="dark" aria-pressed="true"' in text


def test_the_device_decides_again(client):
    client.post("/theme", data={"theme": "dark", "back": "/jobs"})
    client.post("/theme", data={"theme": "", "back": "/jobs"})
    assert "data-theme" not in client.get("/jobs").text


@pytest.mark.parametrize("theme", ["purple", '"><b>', "dark light"])
def test_no_other_look_reaches_the_page(client, theme):
    client.cookies.set("theme", theme.replace('"', "%22"))
    assert "data-theme" not in client.get("/jobs").text
    assert "set-cookie" not in client.post("/theme", data={"theme": theme}).headers or (
        'theme=""' in client.post("/theme", data={"theme": theme}).headers["set-cookie"]
    )


@pytest.mark.parametrize(
    "back", ["", "//evil.example", "https://evil.example/", "/\\evil", "/a\nb"]
)
def test_it_never_leads_elsewhere(client, back):
    answer = client.post("/theme", data={"theme": "dark", "back": back})
    assert answer.headers["location"] == "/jobs"
