import pytest
from tools import languages

from counterpoise.catalog.loader import families
from counterpoise.report.languages import tongue


@pytest.fixture(scope="module")
def expected():
    return languages.expected()


def test_the_languages_are_whole():
    assert tongue.codes() == ("en", "de")
    assert languages.problems("de") == []


@pytest.mark.parametrize("family", families())
def test_every_text_of_a_family_is_said_as_its_catalog_has_it(family, expected):
    """No sentence with values, and no other catalog, takes a text of a family for its own."""
    german = tongue.tongue("de")
    catalogs = [languages.strings(languages.read("de", name)) for name in ("pages", *families())]
    own = {text: said for catalog in catalogs for text, said in catalog.items()}
    texts = languages.family_texts(languages.FAMILIES / f"{family}.yaml")
    assert len(texts) > 500
    assert {text: german.say(text) for text in texts} == {text: own[text] for text in texts}
    # units and the words that both languages share are few
    assert sum(own[text] == text for text in expected[family]) < 10


def test_a_family_without_its_catalog_is_not_whole(tmp_path, monkeypatch, expected):
    monkeypatch.setattr(languages, "LANGUAGES", tmp_path)
    monkeypatch.setattr(
        languages, "expected", lambda: {"pages": {"More": []}, "top_loader": {"Lid": []}}
    )
    languages.write("de", "pages", {"More": "Mehr", "Lid": "Deckel"})
    assert languages.problems("de") == [
        "de/pages: left over: Lid",
        "de/top_loader: not put: Lid",
    ]
    # what moves from one catalog to another stays put
    languages.update("de")
    assert languages.problems("de") == []


def test_what_is_missing_left_over_or_has_other_values_is_named(tmp_path, monkeypatch, expected):
    monkeypatch.setattr(languages, "LANGUAGES", tmp_path)
    monkeypatch.setattr(
        languages, "expected", lambda: {"pages": {"More": [], "Place, like %(x)s": []}}
    )
    languages.write("de", "pages", {"Place, like %(x)s": "Platz %(y)s", "Gone": "Weg"})
    languages.write("de", "sentences", {"zebras graze {anybody} at all": "nie"})
    assert [line.partition(": ")[2] for line in languages.problems("de")] == [
        "not put: More",
        "left over: Gone",
        "other values than in English: Place, like %(x)s",
        "no longer said: zebras graze {anybody} at all",
        "other values than in English: zebras graze {anybody} at all",
    ]
    assert languages.main(["de", "--check"]) == 1
    languages.update("de")
    assert languages.strings(languages.read("de", "pages")) == {
        "More": "",
        "Place, like %(x)s": "Platz %(y)s",
    }


def test_the_texts_of_pages_and_families_are_all_read(expected):
    # of the typesetter's templates, of a drawing, and a tool
    assert {"Your answer", "Yes, do this work. It costs me nothing."} <= set(expected["pages"])
    assert {"Between drum and tub", "Stops unbalance", "torch", "hot water"} <= set(
        expected["names"]
    )
    assert {"Before you start", "Open first: %(title)s", "{0} in about {1}; first: {2}"} <= set(
        expected["pages"]
    )
    assert set(expected) == {
        "pages",
        "front_loader",
        "top_loader",
        "tumble_dryer",
        "spin_dryer",
        "names",
    }


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        # a text that is known may be of several sentences
        ("It pays. Do it. Then stop.", "Lohnt. Nun denn. Dann Schluss."),
        ("It pays. Who knows.", "It pays. Who knows."),
        ("Worn belt 98 %", "Riemen 98 %"),
        ("2 x Worn belt", "2 x Riemen"),
        ("Scrap −10.50 EUR", "Schrott −10,50 EUR"),
        ("Nov 2026: 1.5 to 2.5 at 1200 rpm.", "Nov 2026: 1,5 bis 2,5 at 1200 U/min."),
        ("sold to Scrap for Scrap", "verkauft an Scrap für Schrott"),
    ],
)
def test_texts_are_found_in_paragraphs_beside_figures_and_not_in_what_was_typed(shown, said):
    own = tongue.Tongue(
        "de",
        {
            "It pays.": "Lohnt.", "Do it. Then stop.": "Nun denn. Dann Schluss.", "Worn belt": "Riemen",
            "Scrap": "Schrott", "to": "bis", "rpm": "U/min",
            "sold to {typed_name} for {what}": "verkauft an {typed_name} für {what}",
        },
    )  # fmt: skip
    assert own.say(shown) == said
