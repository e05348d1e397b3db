import json

import pytest
from click.testing import CliRunner
from tests.workshop.price_files import BROKEN, FAMILIES, long_list

from counterpoise.cli import main
from counterpoise.workshop.services.workshop import Workshop


@pytest.fixture
def call(workshop, tmp_path):
    shop = Workshop(workshop.store, FAMILIES)
    (tmp_path / "list.csv").write_bytes(long_list())
    (tmp_path / "small.csv").write_text("part;EK\nrotor;80,00\n")

    def run(*words):
        result = CliRunner().invoke(main, ["prices", *(str(word) for word in words)], obj=shop)
        assert result.exception is None or isinstance(result.exception, SystemExit), (
            result.exception
        )
        return result.exit_code, result.output

    return run


def test_check_names_every_broken_line_and_keeps_nothing(call, workshop, tmp_path):
    code, text = call("check", tmp_path / "list.csv", "--supplier", "Nordlicht")
    assert code == 0
    assert all(f"line {line}" in text for line in BROKEN)
    assert "980 prices: 980 new, 0 changed, 0 as before; 20 broken lines" in " ".join(text.split())
    assert workshop.prices.book().lists == ()


def test_import_refuses_then_leaves_out_on_request(call, workshop, tmp_path):
    code, text = call("import", tmp_path / "list.csv", "--supplier", "Nordlicht")
    assert code == 2
    assert "20 lines are broken" in text
    assert workshop.prices.book().lists == ()
    code, text = call("import", tmp_path / "list.csv", "--supplier", "Nordlicht", "--leave-out")
    assert code == 0
    assert "980 prices taken in; 20 broken lines left out" in text


def test_a_list_is_listed_exported_and_taken_back(call, tmp_path):
    code, text = call(
        "import",
        tmp_path / "small.csv",
        "--supplier",
        "N",
        "--column",
        "price=EK",
        "--by",
        "ada",
        "--json",
    )
    assert (code, json.loads(text)["by"]) == (0, "ada")
    assert "N: 1 price," in call("list")[1]
    assert "1 price written" in call("export", tmp_path / "out.csv")[1]
    assert "front_loader/rotor,,,80.00,EUR" in (tmp_path / "out.csv").read_text()
    assert call("take-back", 1)[0] == 0
    assert "taken back" in call("list")[1]
    assert call("take-back", 1)[0] == 2


def test_what_cannot_be_read_is_said(call, tmp_path):
    for words in (("check", tmp_path / "none.csv", "--supplier", "N"), ("check", tmp_path, "--supplier", "N"),
                  ("check", tmp_path / "small.csv", "--supplier", "N", "--column", "price"),
                  ("export", tmp_path)):  # fmt: skip
        assert call(*words)[0] == 2
