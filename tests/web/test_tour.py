"""The tour of docs/tour.md is true: what it quotes stands on the pages, and its pictures are there and small."""

import pytest
from fastapi.testclient import TestClient
from tools.pictures import MOST_BYTES
from tools.tour import PICTURES, REPOSITORY, TOUR, Cue, Player, cues, empty_workshop

from counterpoise.web.app import create_app


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    app = create_app(empty_workshop(tmp_path_factory.mktemp("tour")))
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


@pytest.mark.slow
def test_the_tour_is_true(client):
    player = Player(client)
    played = list(cues(TOUR.read_text("utf-8")))
    for cue in played:
        player.play(cue)
    assert player.mistakes == []
    # it goes all the way, and quotes a good deal
    assert sum(cue.kind == "words" for cue in played) > 25
    assert client.get("/api/jobs/1").json()["closed"]


def test_what_does_not_stand_on_the_page_is_a_mistake(client):
    player = Player(client)
    text = "<!-- on: /jobs -->\\n**No such words**\\n<!-- do: POST /jobs family=none -->\\n<!-- picture: no.png 700 -->"
    for cue in cues(text.replace("\\n", "\n")):
        player.play(cue)
    assert [mistake.split(":")[0] for mistake in player.mistakes] == ["line 2", "line 3", "line 4"]
    assert "“No such words” does not stand on /jobs" in player.mistakes[0]


def test_words_over_two_lines_are_one_quote():
    assert list(cues("a **b\nc** d")) == [Cue("words", "b c", 1)]


def test_the_pictures_that_are_shown_are_there_and_small():
    shown = {
        line.split("(")[1].split(")")[0]
        for line in TOUR.read_text("utf-8").splitlines()
        if line.startswith("![")
    }
    assert {PICTURES / name.removeprefix("pictures/") for name in shown} == set(
        PICTURES.glob("*.png")
    )
    for picture in PICTURES.glob("*.png"):
        assert picture.stat().st_size < MOST_BYTES
    readme = (REPOSITORY / "README.md").read_text("utf-8")
    for name in ("bench", "recording", "decision"):
        assert f"docs/pictures/{name}.png" in readme
