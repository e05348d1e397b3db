"""A parsed family is kept beside its file, and never trusted when anything it was made from has changed."""

import pickle
import shutil

import pytest

from counterpoise.catalog import parsed_cache
from counterpoise.catalog.loader import DATA, ShippedFamilies, families, load_family
from counterpoise.catalog.parsing import parse_family


@pytest.fixture
def file(tmp_path):
    (tmp_path / "family.yaml").write_text("family: bench", "utf-8")
    (tmp_path / "sources.yaml").write_text("book: {title: A book}", "utf-8")
    return tmp_path / "family.yaml"


def kept_file(file):
    (kept,) = (file.parent / "__pycache__").iterdir()
    return kept


def test_what_was_written_is_read_back(file):
    parsed_cache.write(file, (file.parent / "sources.yaml",), {"minutes": (1.5, 2)})
    assert parsed_cache.read(file, (file.parent / "sources.yaml",)) == {"minutes": (1.5, 2)}


def test_nothing_is_kept_before_the_first_write(file):
    assert parsed_cache.read(file, ()) is None


@pytest.mark.parametrize("changed", ["family.yaml", "sources.yaml"])
def test_a_changed_file_makes_it_void(file, changed):
    beside = (file.parent / "sources.yaml",)
    parsed_cache.write(file, beside, "made")
    (file.parent / changed).write_text("another text", "utf-8")
    assert parsed_cache.read(file, beside) is None


def test_text_moved_from_one_file_to_the_next_makes_it_void(file):
    beside = file.parent / "sources.yaml"
    file.write_text("ab", "utf-8")
    beside.write_text("c", "utf-8")
    parsed_cache.write(file, (beside,), "made")
    file.write_text("a", "utf-8")
    beside.write_text("bc", "utf-8")
    assert parsed_cache.read(file, (beside,)) is None


def test_another_program_makes_it_void(file, monkeypatch):
    parsed_cache.write(file, (), "made")
    monkeypatch.setattr(parsed_cache, "_program", lambda: b"another")
    assert parsed_cache.read(file, ()) is None


@pytest.mark.parametrize("keep", [0, 1, 40, 64, 70])
def test_a_torn_file_is_not_even_unpickled(file, keep, monkeypatch):
    parsed_cache.write(file, (), list(range(100)))
    kept = kept_file(file)
    kept.write_bytes(kept.read_bytes()[:keep])
    monkeypatch.setattr(pickle, "loads", lambda _: pytest.fail("was unpickled"))
    assert parsed_cache.read(file, ()) is None


def test_a_folder_that_cannot_be_written_keeps_nothing_and_does_not_matter(file):
    (file.parent / "__pycache__").write_text("in the way", "utf-8")
    parsed_cache.write(file, (), "made")
    assert parsed_cache.read(file, ()) is None


def test_no_scratch_file_stays_behind(file):
    for value in range(3):
        parsed_cache.write(file, (), value)
    assert parsed_cache.read(file, ()) == 2
    assert kept_file(file).name.startswith("family.")


@pytest.mark.parametrize("name", families())
def test_a_family_that_was_kept_equals_the_parsed_one(name, tmp_path):
    for file in DATA.glob("*.yaml"):
        shutil.copy(file, tmp_path)
    file, beside = tmp_path / f"{name}.yaml", (tmp_path / "sources.yaml",)
    report = parse_family(file)
    parsed_cache.write(file, beside, report)
    assert parsed_cache.read(file, beside) == report
    assert report.family == load_family(name)


def test_shipped_families_are_a_mapping_of_all_that_are_shipped():
    shipped = ShippedFamilies()
    assert list(shipped) == families()
    assert len(shipped) == len(families())
    assert "front_loader" in shipped
    assert "no_such" not in shipped
    assert shipped["front_loader"].id == "front_loader"
    assert shipped.get("no_such") is None
    with pytest.raises(KeyError, match="no_such"):
        shipped["no_such"]
    with pytest.raises(KeyError):
        shipped["../front_loader"]
