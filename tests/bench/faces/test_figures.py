"""What the figures show: words, not colour alone; the data themselves."""

import numpy as np
import pytest

from counterpoise.bench.dampers import DamperForces, damper_set
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.play import PlayReadings, play
from counterpoise.bench.runout import Rim, runout
from counterpoise.bench.slopes import from_degrees
from counterpoise.report.figures.bench import dampers_figure, figure_of, level_figure, runout_figure


def words(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts]


def test_each_foot_says_what_to_do():
    found = level(
        LevelReadings(
            front=from_degrees(0.0), left=from_degrees(0.0), floating="rear left", gap_mm=2.5
        )
    )
    said = words(level_figure(found))
    assert "2 turns\nOUT (up)\nfloats" in said
    assert said.count("leave") == 3


def test_the_rim_shows_what_was_read():
    found = runout(Rim((9.0, 8.0, None, 7.0, 8.0, 8.5)))
    dots = runout_figure(found).axes[0].lines[2]
    assert dots.get_label() == "read"
    assert np.asarray(dots.get_ydata()) == pytest.approx([9, 8, 7, 8, 8.5])


def test_dampers_carry_their_word_and_the_line_of_worn():
    figure = dampers_figure(
        damper_set([DamperForces("left", (80.0,)), DamperForces("right", (10.0,))])
    )
    axes = figure.axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["left\nsound", "right\ndead"]
    assert axes.get_title(loc="left") == "One bad: replace the set"


def test_other_measures_stand_on_their_scale_in_words():
    found = play(PlayReadings((1.2,), axial_mm=(0.2,)))
    figure = figure_of(found)
    assert len(figure.axes) == len(found.measures)
    assert {"moves with the tub", "some play", "loose"} <= set(words(figure))
    assert figure.axes[0].get_title(loc="left").startswith("radial: 1.2 mm")


def test_a_figure_fits_a_small_phone():
    assert figure_of(play(PlayReadings((1.2,)))).get_size_inches()[0] * 90 == 360
