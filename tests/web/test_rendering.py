"""Templates into pages: escaped, strict about names, and never styled by an old sheet."""

import re
from importlib.resources import files

import pytest
from jinja2 import UndefinedError
from starlette.requests import Request

from counterpoise.web.render import (
    SCRIPTS,
    STYLES,
    environment,
    page,
    script,
    script_mark,
    style,
    style_mark,
)


def asked(cookie=""):
    headers = [(b"cookie", cookie.encode())]
    return Request({"type": "http", "headers": headers, "path": "/", "query_string": b""})


def shown(text, **values):
    return environment().from_string(text).render(**values)


@pytest.mark.parametrize(
    ("text", "values", "words"),
    [
        ("{{ x|money('EUR') }}", {"x": 1250}, "12.50 EUR"),
        ("{{ x|money('EUR') }}", {"x": -1250}, "-12.50 EUR"),
        ("{{ x|plain_money }}", {"x": 1250}, "12.50"),
        ("{{ x|minutes }}", {"x": 1}, "1 min"),
        ("{{ x|minutes }}", {"x": 12}, "12 min"),
    ],
)
def test_filters_say_figures_in_words(text, values, words):
    assert words in shown(text, **values).replace("\u2212", "-").replace("\u00a0", " ")


@pytest.mark.parametrize("name", ["chance", "when", "day", "kind", "origin", "happened", "wide",
                                  "fingers", "quantity", "option", "about", "age"])  # fmt: skip
def test_every_filter_that_templates_use_is_there(name):
    assert name in environment().filters


def test_filters_of_templates_exist():
    used = set()
    for package in ("counterpoise.web", "counterpoise.report.paper"):
        for file in files(package).joinpath("templates").rglob("*.html"):
            used |= set(re.findall(r"\|\s?([a-z_]+)", "".join(
                re.findall(r"\{[{%].*?[}%]\}", file.read_text("utf-8"), re.DOTALL)
            )))  # fmt: skip
    assert len(used) > 10
    assert used <= set(environment().filters)


@pytest.mark.parametrize("text", ["<b>", "{{ 7*7 }}", "\"'", "&amp;"])
def test_every_value_is_escaped(text):
    assert "<" not in shown("{{ x }}", x=text)
    assert "49" not in shown("{{ x }}", x=text)


def test_a_value_cannot_leave_its_attribute():
    assert shown('<input value="{{ x }}">', x='" onfocus="x').count('"') == 2


def test_a_name_that_is_not_given_is_an_error():
    with pytest.raises(UndefinedError):
        shown("{{ cautoin }}", caution="Pull the plug")


@pytest.mark.parametrize("name", STYLES)
def test_style_sheets_load_nothing_from_elsewhere(name):
    text = style(name).decode()
    assert "@import" not in text
    assert re.findall(r"url\((?!['\"]?data:)", text) == []


@pytest.mark.parametrize("name", SCRIPTS)
def test_scripts_speak_to_this_workshop_alone(name):
    text = script(name).decode()
    assert re.findall(r"https?://", text) == []
    assert "eval(" not in text


def test_a_mark_changes_with_what_it_marks(monkeypatch):
    before = style_mark.__wrapped__()
    assert re.fullmatch(r"[0-9a-f]{12}", before)
    assert re.fullmatch(r"[0-9a-f]{12}", script_mark())
    monkeypatch.setattr("counterpoise.web.render.style", lambda name: b"body{}" + name.encode())
    assert style_mark.__wrapped__() != before


def test_no_other_file_is_sent_as_a_style_sheet():
    with pytest.raises(KeyError):
        style("../app.py")


def test_a_page_has_the_status_and_the_name_of_who_wrote_last():
    problem = {"what": "Gone", "field": "", "remedy": ""}
    answer = page(asked("hand=Ada"), "problem.html", status=404, problem=problem, code=404)
    assert answer.status_code == 404
    assert answer.media_type == "text/html"
    assert "Gone" in answer.body.decode()


def test_a_long_cookie_is_cut(client, number):
    client.cookies.set("hand", "a" * 500)
    text = client.get(f"/jobs/{number}").text
    assert "a" * 40 in text
    assert "a" * 41 not in text
