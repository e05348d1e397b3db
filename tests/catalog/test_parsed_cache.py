"""What was parsed is kept beside its file, and never used for another text or when it is broken."""

from pathlib import Path

import pytest

from counterpoise.catalog import parsed_cache


@pytest.fixture
def file(tmp_path, monkeypatch):
    # as if the program's own folder were there: what is kept lies in it
    monkeypatch.setattr(parsed_cache, "DATA", tmp_path)
    path = tmp_path / "family.yaml"
    path.write_text("a: 1\n")
    (tmp_path / "sources.yaml").write_text("s: 1\n")
    return path


def beside(file):
    return (file.parent / "sources.yaml",)


def kept_of(file):
    (kept,) = (file.parent / "__pycache__").glob("*.pickle")
    return kept


def test_what_was_kept_is_read_back(file):
    assert parsed_cache.read((file,), beside(file)) is None
    parsed_cache.write((file,), beside(file), {"made": [1, 2]})
    assert parsed_cache.read((file,), beside(file)) == {"made": [1, 2]}


@pytest.mark.parametrize("which", ["family.yaml", "sources.yaml"])
def test_a_changed_file_makes_it_void(file, which):
    parsed_cache.write((file,), beside(file), "made")
    (file.parent / which).write_text("a: 2\n")
    assert parsed_cache.read((file,), beside(file)) is None


def test_another_program_makes_it_void(file, monkeypatch):
    parsed_cache.write((file,), beside(file), "made")
    monkeypatch.setattr(parsed_cache, "_program", lambda: b"another")
    assert parsed_cache.read((file,), beside(file)) is None


@pytest.mark.parametrize(
    "harm", [lambda b: b[:20], lambda b: b[:-1], lambda b: b[:-3] + b"xyz", lambda _: b""]
)
def test_a_broken_keep_is_not_used(file, harm):
    parsed_cache.write((file,), beside(file), {"made": 1})
    kept = kept_of(file)
    kept.write_bytes(harm(kept.read_bytes()))
    assert parsed_cache.read((file,), beside(file)) is None


def test_what_cannot_be_kept_is_no_error(file, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise OSError("read-only")

    monkeypatch.setattr(Path, "mkdir", refuse)
    parsed_cache.write((file,), beside(file), "made")
    assert parsed_cache.read((file,), beside(file)) is None


def test_the_last_writer_holds_and_no_scraps_are_left(file):
    for made in range(5):
        parsed_cache.write((file,), beside(file), made)
    assert parsed_cache.read((file,), beside(file)) == 4
    assert len(list((file.parent / "__pycache__").iterdir())) == 1


def test_what_is_kept_of_a_workshops_own_files_lies_with_the_program_and_not_beside_them(
    file, tmp_path_factory
):
    folder = tmp_path_factory.mktemp("own")
    own = (file, folder / "family.changes.yaml")
    own[1].write_text("changes: family\n")
    parsed_cache.write(own, beside(file), "made")
    assert parsed_cache.read(own, beside(file)) == "made"
    assert parsed_cache.read((file,), beside(file)) is None
    assert [path.name for path in folder.iterdir()] == ["family.changes.yaml"]


def test_what_is_kept_of_files_long_gone_is_dropped(file, tmp_path_factory):
    folder = tmp_path_factory.mktemp("own")
    for number in range(40):
        own = folder / f"family{number}.yaml"
        own.write_text("a: 1\n")
        parsed_cache.write((own,), (), number)
    assert len(list((file.parent / "__pycache__").glob("own-*"))) < 30
    assert parsed_cache.read((own,), ()) == 39
