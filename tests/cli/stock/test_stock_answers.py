"""What the shelf and the price lists answer: JSON with its keys, the same in the terminal."""

import pytest
from tests.web.workbench import STOCKED, ForeseeableWorkshop

from counterpoise.report.words.numbers import money


@pytest.fixture
def workshop(workshop):
    return ForeseeableWorkshop(workshop.store, {"bench": STOCKED})


def flat(text):
    return " ".join(text.split())


def test_every_movement_answers_with_the_lot_as_it_lies(ask, number):
    lot = ask("stock", "receive", "bench/pump", "--count", 5, "--cost", "3.50")[1]
    assert (lot["number"], lot["pieces"], lot["cost_minor"], lot["held"]) == (1, 5, 350, [])
    for words, pieces, held in (
        (("reserve", 1, "--job", 1, "--count", 2), 5, [[1, 2]]),
        (("release", 1, "--job", 1), 5, [[1, 1]]),
        (("use", 1, "--job", 1), 4, []),
        (("write-off", 1, "--count", 2), 2, []),
        (("count", 1, 3), 3, []),
        (("move", 1, "C4"), 3, []),
    ):
        code, after = ask("stock", *words)
        assert code == 0
        assert set(after) == set(lot)
        assert (after["pieces"], after["held"]) == (pieces, held)
    assert after["place"] == "C4"


def test_a_part_is_shown_alike(ask, run, number):
    ask("stock", "receive", "bench/pump", "--count", 2, "--cost", "3.50", "--place", "B2")
    ask("stock", "use", 1, "--job", 1)
    sheet = ask("stock", "show", "bench/pump")[1]
    assert (sheet["title"], sheet["catalog_minor"], sheet["used_minor"]) == (
        "Drain pump",
        3800,
        1400,
    )
    assert [entry["kind"] for entry in sheet["movements"]] == ["used", "received"]
    text = flat(run("stock", "show", "bench/pump")[1])
    for lot in sheet["lots"]:
        assert f"lot {lot['number']}: {lot['pieces']} {lot['kind']}, in {lot['place']}" in text
        assert f"cost {money(lot['cost_minor'], 'EUR')} each" in text


def test_undoing_the_newest_movements_one_by_one_empties_the_shelf(ask, number):
    ask("stock", "receive", "bench/pump", "--count", 2)
    ask("stock", "move", 1, "B2")
    ask("stock", "use", 1, "--job", 1)
    assert [ask("stock", "undo", movement)[1]["pieces"] for movement in (3, 2, 1)] == [2, 2, 0]
    assert ask("stock", "list")[1] == []


def test_prices_written_can_be_taken_in_again(ask, tmp_path, number):
    first, again = tmp_path / "list.csv", tmp_path / "out.csv"
    first.write_text("part;kind;price\npump;new;35,00\ndamper_set;used;12,50\n", encoding="utf-8")
    preview = ask("prices", "check", first, "--supplier", "Ode")[1]
    assert (preview["taken"], preview["new"], preview["broken"]) == (2, 2, 0)
    assert [change["price_minor"] for change in preview["changes"]] == [3500, 1250]
    assert ask("prices", "list")[1] == []
    taken = ask("prices", "import", first, "--supplier", "Ode", "--by", "ada")[1]
    assert (taken["number"], taken["supplier"], taken["lines"], taken["by"]) == (1, "Ode", 2, "ada")
    assert ask("prices", "export", again) == (0, {"file": str(again), "count": 2})
    assert ask("prices", "check", again, "--supplier", "Ode")[1]["same"] == 2
    assert ask("prices", "take-back", 1)[0] == 0
    assert [entry["gone"] for entry in ask("prices", "list")[1]] == [True]
    assert ask("prices", "export", again)[1]["count"] == 0


def test_a_price_taken_in_is_what_the_estimate_asks(ask, tmp_path, number):
    before = ask("job", "estimate", number)[1]["estimate"]["payable_minor"]
    file = tmp_path / "list.csv"
    file.write_text("part;kind;price\ndamper_set;new;30,00\n", encoding="utf-8")
    ask("prices", "import", file, "--supplier", "Ode")
    # 16.00 less, with 20 % mark-up and 20 % tax on it
    assert ask("job", "estimate", number)[1]["estimate"]["payable_minor"] == before - 2304
    ask("prices", "take-back", 1)
    assert ask("job", "estimate", number)[1]["estimate"]["payable_minor"] == before
