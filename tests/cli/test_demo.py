import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main


@pytest.mark.slow
def test_the_demo_plays_three_machines_to_their_ends_and_writes_their_papers(tmp_path):
    result = CliRunner().invoke(main, ["demo", "--folder", str(tmp_path / "out"), "--json"])
    assert result.exit_code == 0, result.output
    mended, too_dear, in_parts = json.loads(result.output)["machines"]
    assert [one["ending"] for one in (mended, too_dear, in_parts)] == [
        "repair_hand_back",
        "replace",
        "part_out",
    ]
    assert mended["offer"]["accepted"]
    assert (
        mended["offer"]["price_minor"] == mended["received_minor"] < mended["offer"]["limit_minor"]
    )
    assert not too_dear["offer"]["accepted"]
    assert too_dear["offer"]["price_minor"] > too_dear["offer"]["limit_minor"]
    assert too_dear["offer"]["kept_minor"] > too_dear["received_minor"] > 0
    assert len([turn for turn in in_parts["turns"] if turn["suspects"]]) >= 6
    for story in (mended, too_dear, in_parts):
        assert any(
            abs(new - old) > 0.2 for turn in story["turns"] for _, old, new in turn["suspects"]
        )
        for name in story["files"]:
            assert (tmp_path / "out" / name.rpartition("/")[2]).stat().st_size > 1000
    obvious = in_parts["obvious"]
    assert obvious["then_minor"] > 0 > obvious["now_minor"]
    assert obvious["decided_minor"] > obvious["now_minor"] + 5000
    assert (tmp_path / "out" / "too-dear-quote.pdf").read_bytes().startswith(b"%PDF")
    html = (tmp_path / "out" / "in-parts-sheet.html").read_text("utf-8")
    assert "Decided:" in html
    assert "Closed:" in html


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_text("in the way")
    result = CliRunner().invoke(
        main, ["demo", "--folder", str(tmp_path / "file" / "out"), "--json"]
    )
    assert result.exit_code == 2
    assert "--folder" in result.output
