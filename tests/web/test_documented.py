from pathlib import Path

from counterpoise.web.app import _PAGES, SCRIPTS, STYLES, create_app

PAGE = (Path(__file__).parents[2] / "docs" / "pages.md").read_text("utf-8")
FILES = {
    "/jobs/{number}/sheet.pdf", "/jobs/{number}/quote.pdf", "/jobs/{number}/photos/{photo}", "/mark.svg",
    "/ledger.csv", "/prices.csv", "/stock/lots/{lot}/label.pdf", "/jobs/{number}/spin.svg", "/jobs/{number}/labels.pdf",
    "/jobs/{number}/recording/{recording}/figure.svg", "/jobs/{number}/recording/{recording}/fit.svg",
    "/root.crt", "/phone/in/{token}",
    # for those without a script: the JSON of a job plans what answers lead to at once
    "/jobs/{number}/ahead",
    *(f"/{name}" for name in (*STYLES, *SCRIPTS)),
}  # fmt: skip

# light or dark, the language and what is kept on a phone are one browser's own; a program has none
LOOKS = {"/theme", "/language", "/kept"}


def routes(kind):
    return {
        (m, route.path)
        for room in _PAGES
        for route in getattr(room, kind).routes
        for m in route.methods
    }


def test_every_page_has_its_twin():
    twins = {(method, path.removeprefix("/api")) for method, path in routes("api")}
    pages = {
        (method, path) for method, path in routes("pages") if path not in FILES | {"/"} | LOOKS
    }
    assert len(pages) > 15
    assert pages <= twins
    piece = "/jobs/{number}/record/{capture}"
    assert twins - pages == {
        ("POST", "/photos"),
        ("GET", piece),
        ("POST", piece),
        ("PUT", f"{piece}/{{part}}"),
        ("GET", "/health"),
        # the page of the ledger shows the year beside the month
        ("GET", "/ledger/year"),
    }


def test_every_route_is_documented():
    for method, path in routes("pages"):
        assert f"`{method} {path}`" in PAGE
    for path in FILES:
        assert f"`GET {path}`" in PAGE
    for method, path in routes("api") - {
        (method, f"/api{path}") for method, path in routes("pages")
    }:
        assert f"`{method} {path}`" in PAGE


def test_every_twin_is_described_with_its_answer():
    described = create_app(None).openapi()["paths"]
    for method, path in routes("api"):
        operation = described[path][method.lower()]
        answer = operation["responses"].get("200") or operation["responses"]["201"]
        assert operation["description"]
        assert answer["content"]["application/json"]["schema"], path
