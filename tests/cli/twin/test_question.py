"""What is asked of the machine as physics: figures, points and measured levels as they are typed."""

import pytest

from counterpoise.cli.twin.question import is_number, levels_in, phone_at, settings_of
from counterpoise.errors import InputError


def test_settings_are_numbers_by_name():
    assert settings_of(("spring_n_m=9000", "dampers=3")) == {"spring_n_m": 9000.0, "dampers": 3.0}
    assert settings_of(()) == {}


@pytest.mark.parametrize("pair", ["spring_n_m", "spring_n_m=soft", "spring_n_m=nan", "a="])
def test_a_setting_that_is_no_number_is_refused(pair):
    with pytest.raises(InputError):
        settings_of((pair,))


def test_a_point_is_metres_from_the_middle():
    phone = phone_at("0.1,-0.2")
    assert (phone.x_m, phone.y_m, phone.yaw_rad) == (0.1, -0.2, 0.0)


@pytest.mark.parametrize("text", ["", "0.1", "left,front", "0.1;0.2", "nan,0"])
def test_what_is_no_point_is_refused_with_how_to_write_one(text):
    with pytest.raises(InputError) as refused:
        phone_at(text)
    assert refused.value.field == "point"
    assert "0.1,-0.2" in refused.value.remedy


@pytest.mark.parametrize("text", ["rpm,mm\n166,3.15\n400;1.2\n", "166,3.15\n\n400,1.2\n\n"])
def test_levels_come_with_or_without_a_head_and_with_either_separator(tmp_path, text):
    file = tmp_path / "levels.csv"
    file.write_text(text, "utf-8")
    assert levels_in(str(file)) == ((166.0, 3.15), (400.0, 1.2))


def test_a_level_that_cannot_be_is_refused_with_its_line(tmp_path):
    file = tmp_path / "levels.csv"
    file.write_text("rpm,mm\n166,3.15\n400,much\n", "utf-8")
    with pytest.raises(InputError, match="line 3") as refused:
        levels_in(str(file))
    assert refused.value.field == "measured"


def test_a_file_that_is_no_text_is_refused(tmp_path):
    file = tmp_path / "levels.csv"
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="is no text"):
        levels_in(str(file))


@pytest.mark.parametrize(
    ("text", "yes"), [("3", True), ("-1.5e2", True), ("rpm", False), ("", False)]
)
def test_a_head_of_a_column_is_no_number(text, yes):
    assert is_number(text) is yes
