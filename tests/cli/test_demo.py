import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main


@pytest.mark.slow
def test_the_demo_plays_a_job_to_its_end_and_writes_its_sheet(tmp_path):
    result = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path / "out"), "--json"])
    assert result.exit_code == 0, result.output
    told = json.loads(result.output)
    assert len([turn for turn in told["turns"] if turn["suspects"]]) >= 6
    assert any(abs(new - old) > 0.2 for turn in told["turns"] for _, old, new in turn["suspects"])
    obvious = told["obvious"]
    assert obvious["then_minor"] > 0 > obvious["now_minor"]
    assert obvious["decided_minor"] > obvious["now_minor"] + 5000
    assert (tmp_path / "out" / "sheet.pdf").read_bytes().startswith(b"%PDF")
    html = (tmp_path / "out" / "sheet.html").read_text("utf-8")
    assert "Decided:" in html
    assert "Closed:" in html


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_text("in the way")
    result = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path / "file" / "out"), "--json"])
    assert result.exit_code == 2
    assert "--folder" in result.output
