"""The figures of a spin come out, the same each time, with what they must say."""

import sys
from xml.etree import ElementTree as ET

import numpy as np
from tests.spin.shared import labelled

from counterpoise.report.figures.spin import main
from counterpoise.report.figures.spin_chart import DrawnSpin, once_a_turn, spin_chart

SVG = "{http://www.w3.org/2000/svg}"


def drawn(*spins, wide=None):
    return ET.fromstring(spin_chart([DrawnSpin(*spin) for spin in spins], wide))


def texts(chart):
    return [text.text for text in chart.iter(f"{SVG}text")]


def test_a_spin_is_drawn_with_its_speeds_and_units():
    alone = ("", labelled("r001"))
    assert spin_chart([DrawnSpin(*alone)]) == spin_chart([DrawnSpin(*alone)])
    said = texts(drawn(alone))
    # the speeds it held long enough for a figure to stand over them
    assert "1100" in said
    assert {"Speed, rpm", "0 s", "Shake once a turn, m/s²", "0 rpm"} <= set(said)
    assert "before" not in said


def test_before_and_after_share_their_axes_and_differ_without_colour():
    before, after = labelled("r008"), labelled("r005")
    chart = drawn(("before", before), ("after", after), wide=640.0)
    assert {"before", "after"} <= set(texts(chart))
    lines = list(chart.iter(f"{SVG}polyline"))
    dashed = [line for line in lines if line.get("stroke-dasharray")]
    assert len(lines) > len(dashed) >= 3
    # in the lower plot the spin that shakes more reaches higher, on one scale for both
    groups = list(chart.findall(f"{SVG}g"))
    lowest = max(float(group.get("transform").split()[1].rstrip(")")) for group in groups)
    top, most = {}, {}
    for name, reading in (("before", before), ("after", after)):
        curves = [
            line
            for group in groups
            if group.get("transform") == f"translate(0 {lowest:g})"
            for line in group
            if bool(line.get("stroke-dasharray")) == (name == "before")
        ]
        top[name] = min(float(at.split(",")[1]) for c in curves for at in c.get("points").split())
        most[name] = float(np.nanmax(once_a_turn(reading)[1]))
    scale = {name: (150 - top[name]) / most[name] for name in top}
    assert abs(scale["before"] / scale["after"] - 1) < 0.01


def test_an_aborted_spin_can_be_drawn():
    assert texts(drawn(("", labelled("r004"))))


def test_every_letter_keeps_its_size_and_is_large_enough():
    for wide in (None, 640.0):
        chart = drawn(("", labelled("r001")), wide=wide)
        assert float(chart.get("font-size")) >= 12
        # nothing scales the chart as a whole on a page: only curves lie in a stretched square
        assert (chart.get("viewBox") is None) == (wide is None)
        assert not any(inner.findall(f".//{SVG}text") for inner in chart.findall(f"{SVG}svg"))


def test_the_reliability_diagram_is_written(tmp_path, monkeypatch):
    out = tmp_path / "r.svg"
    monkeypatch.setattr(sys, "argv", ["figures_spin", str(out)])
    main()
    assert b"</svg>" in out.read_bytes()
