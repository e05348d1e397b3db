"""Published examples as model files: read, solved exactly, and their printed values met."""

from pathlib import Path

import pytest

from counterpoise.catalog.model_file import load_model
from counterpoise.reasoning.exact import solve_exactly
from counterpoise.reasoning.problem import compile_model

MODELS = Path(__file__).parent / "models"
PRINTED = {
    "sacso_2001_figure_1": (-1.45, "A3"),
    "vomlelova_2003_theorem_4_m1": (-3.0, None),
    "vomlelova_2003_theorem_4_m2": (-11 / 3, None),
    "lin_2014_figure_2": (-1.75, "A1"),
    "panels_in_a_tree": (-10.65, None),
    "oil_wildcatter": (22.5, "test"),
    "used_car": (31.0, "test"),
}


def test_every_model_is_held_against_its_printed_value():
    assert {path.stem for path in MODELS.glob("*.yaml")} == set(PRINTED)


@pytest.mark.parametrize("name", PRINTED)
def test_a_published_example_comes_out_as_printed(name):
    value, first = PRINTED[name]
    plan = solve_exactly(compile_model(load_model(MODELS / f"{name}.yaml")))
    assert plan.exact
    assert plan.value == pytest.approx(value, abs=1e-8)
    if first is not None:
        assert plan.first.id == first
