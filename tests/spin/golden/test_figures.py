"""The figures of a spin come out, the same each time, with what they must say."""

import sys

from tests.spin.shared import labelled

from counterpoise.report.figures.spin import main, proof_figure, spin_figure, svg


def test_a_spin_and_a_proof_are_drawn():
    first = svg(spin_figure(labelled("r001")))
    assert first == svg(spin_figure(labelled("r001")))
    assert first.startswith(b"<?xml")
    axes = spin_figure(labelled("r001")).axes[0]
    assert {text.get_text() for text in axes.texts} == {"412", "755", "1100"}
    labels = proof_figure(labelled("r008"), labelled("r005")).axes[0].get_legend_handles_labels()[1]
    assert labels == ["before", "after"]


def test_an_aborted_spin_can_be_drawn():
    assert b"</svg>" in svg(spin_figure(labelled("r004")))


def test_the_reliability_diagram_is_written(tmp_path, monkeypatch):
    out = tmp_path / "r.svg"
    monkeypatch.setattr(sys, "argv", ["figures_spin", str(out)])
    main()
    assert b"</svg>" in out.read_bytes()
