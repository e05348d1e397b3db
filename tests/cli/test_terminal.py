"""What is printed and written: texts without tricks, files or a plain refusal."""

import pytest

from counterpoise.cli.terminal import console, say, write_file
from counterpoise.errors import InputError


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Dampers worn", "Dampers worn"),
        ("two\nlines", "two\nlines"),
        ("\x1b[31mred\x1b[0m", "[31mred[0m"),
        ("bell\x07 null\x00 back\x08", "bell null back"),
        ("tab\there", "tabhere"),
        ("[bold]not markup[/bold]", "[bold]not markup[/bold]"),
        ("−14.20 EUR ± 3", "−14.20 EUR ± 3"),
        ("", ""),
    ],
)
def test_a_text_is_said_as_it_is_without_control_characters(text, said):
    assert say(text).plain == said


def test_a_style_goes_with_the_text():
    assert say("Closed", "bold").style == "bold"


def test_no_line_is_wider_than_can_be_read(monkeypatch):
    monkeypatch.setenv("COLUMNS", "400")
    assert console().width == 100
    monkeypatch.setenv("COLUMNS", "60")
    assert console().width == 60


def test_numbers_are_not_coloured_by_themselves(capsys):
    console().print(say("12 minutes"))
    assert capsys.readouterr().out == "12 minutes\n"


def test_a_file_is_written_over_the_one_before(tmp_path):
    file = tmp_path / "sheet.pdf"
    write_file(str(file), b"first, and longer")
    write_file(str(file), b"second")
    assert file.read_bytes() == b"second"


@pytest.mark.parametrize("name", ["no/such/folder/sheet.pdf", "."])
@pytest.mark.parametrize("field", ["file", "figure"])
def test_a_file_that_cannot_be_written_is_an_error_with_its_field(tmp_path, name, field):
    with pytest.raises(InputError) as refused:
        write_file(str(tmp_path / name), b"x", field=field)
    assert refused.value.field == field
    assert refused.value.remedy == "Give another file."
    assert name.rstrip(".") in refused.value.message
