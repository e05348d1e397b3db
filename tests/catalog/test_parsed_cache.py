"""What was parsed is kept beside its file, and never used for another text or when it is broken."""

from pathlib import Path

import pytest

from counterpoise.catalog import parsed_cache


@pytest.fixture
def file(tmp_path):
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
    assert parsed_cache.read(file, beside(file)) is None
    parsed_cache.write(file, beside(file), {"made": [1, 2]})
    assert parsed_cache.read(file, beside(file)) == {"made": [1, 2]}


@pytest.mark.parametrize("which", ["family.yaml", "sources.yaml"])
def test_a_changed_file_makes_it_void(file, which):
    parsed_cache.write(file, beside(file), "made")
    (file.parent / which).write_text("a: 2\n")
    assert parsed_cache.read(file, beside(file)) is None


def test_another_program_makes_it_void(file, monkeypatch):
    parsed_cache.write(file, beside(file), "made")
    monkeypatch.setattr(parsed_cache, "_program", lambda: b"another")
    assert parsed_cache.read(file, beside(file)) is None


@pytest.mark.parametrize(
    "harm", [lambda b: b[:20], lambda b: b[:-1], lambda b: b[:-3] + b"xyz", lambda _: b""]
)
def test_a_broken_keep_is_not_used(file, harm):
    parsed_cache.write(file, beside(file), {"made": 1})
    kept = kept_of(file)
    kept.write_bytes(harm(kept.read_bytes()))
    assert parsed_cache.read(file, beside(file)) is None


def test_what_cannot_be_kept_is_no_error(file, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise OSError("read-only")

    monkeypatch.setattr(Path, "mkdir", refuse)
    parsed_cache.write(file, beside(file), "made")
    assert parsed_cache.read(file, beside(file)) is None


def test_the_last_writer_holds_and_no_scraps_are_left(file):
    for made in range(5):
        parsed_cache.write(file, beside(file), made)
    assert parsed_cache.read(file, beside(file)) == 4
    assert len(list((file.parent / "__pycache__").iterdir())) == 1
