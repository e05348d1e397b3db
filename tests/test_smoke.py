from click.testing import CliRunner

from counterpoise.cli import main


def test_the_command_answers():
    assert CliRunner().invoke(main, ["--help"]).exit_code == 0
