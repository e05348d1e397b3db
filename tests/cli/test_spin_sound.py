import json

import numpy as np
import pytest
from click.testing import CliRunner
from tests.spin.shared import spin_signal
from tests.spin.sounds import spin_sound, wav

from counterpoise.cli import main


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sound")
    t, acc, _ = spin_signal(100.0, noise=0.05)
    np.savetxt(
        folder / "a.csv", np.column_stack([t, acc]), "%.4f", ",", header="t,x,y,z", comments=""
    )
    (folder / "a.wav").write_bytes(wav(spin_sound({3.07: 0.01})))
    (folder / "bad.wav").write_bytes(b"nothing")
    return folder


def test_the_sound_is_read_beside_the_recording(files):
    words = ["spin", str(files / "a.csv"), "--sound", str(files / "a.wav"), "--sound-start", "0"]
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 0
    assert "3.07 times a turn (no whole number" in told.output
    assert "measure bearing-tones" in told.output
    data = json.loads(CliRunner().invoke(main, [*words, "--json"]).output)
    assert data["sound"]["tones"][0]["order"] == pytest.approx(3.07, rel=0.002)
    alone = json.loads(CliRunner().invoke(main, [*words[:2], "--json"]).output)
    assert "sound" not in alone
    assert alone["groups"] == data["groups"]


def test_a_file_that_is_no_sound_is_told(files):
    told = CliRunner().invoke(
        main, ["spin", str(files / "a.csv"), "--sound", str(files / "bad.wav")]
    )
    assert told.exit_code == 2
    assert "bad.wav is no WAV file" in told.output
