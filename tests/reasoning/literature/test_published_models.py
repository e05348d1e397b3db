"""Published examples as model files, through the command: their printed values and first steps.

The source of each stands at the head of its file. Exact arithmetic: 1e-9, but where the source
prints five digits.
"""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

MODELS = Path(__file__).parent / "models"
PRINTED = {
    "t3_vomlelova_2003_independent_faults": (-2761 / 923, "repair", "A1"),
    "w1_jensen_2001_figure_1": (-1.45, "repair", "A3"),
    "w2_vomlelova_2003_theorem_4_m1": (-3, None, None),
    "w2_vomlelova_2003_theorem_4_m2": (-11 / 3, None, None),
    "w2_vomlelova_2003_theorem_4_m3": (-17 / 4, None, None),
    **{
        f"w2_vomlelova_2003_theorem_4_m{m}": (-(2 + m * (m + 3) / (2 * (m + 1))), None, None)
        for m in range(4, 9)
    },
    "w3_lin_2014_figure_2": (-7 / 4, "repair", "A1"),
    "w3_lin_2014_figure_2_without_question": (-7 / 4, "repair", "A1"),
    "w4_langseth_2003_example_4": (-1.48051, "repair", "A2"),
    "w6_pinedo_example_3_1": (-1610 / 79, "repair", "R2"),
    "w6_pinedo_example_3_1_longer_job_2": (-1689 / 79, "repair", "R2"),
    "w6_pinedo_example_3_2_chains": (-1854 / 79, "repair", "R6"),
    "w7_color_a_tree": (-3.3, "repair", "R1"),
    "w8_panels_in_a_tree": (-10.65, "repair", "A1"),
    "w9_russell_norvig_noisy_or": (0.432, "check", "fever"),
    "w12_oil_wildcatter": (22.5, "check", "test"),
    "w13_used_car": (31, "check", "test"),
}
ROUNDED_IN_PRINT = {"w4_langseth_2003_example_4": 1e-5}


def file_of(name):
    """The model file of that name, in whichever folder of its kind it lies."""
    (path,) = MODELS.rglob(f"{name}.yaml")
    return path


def planned(path):
    result = CliRunner().invoke(main, ["plan", str(path), "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_every_model_is_held_against_its_printed_value():
    assert sorted(path.stem for path in MODELS.rglob("*.yaml")) == sorted(PRINTED)


@pytest.mark.parametrize("name", PRINTED)
def test_a_published_example_comes_out_as_printed(name):
    value, kind, first = PRINTED[name]
    found = planned(file_of(name))
    tolerance = ROUNDED_IN_PRINT.get(name, 1e-9)
    assert found["exact"]
    assert found["value"] == pytest.approx(value, rel=0, abs=tolerance)
    assert found["lower"] <= found["value"] <= found["upper"]
    assert found["upper"] - found["lower"] < 1e-6
    if kind is not None:
        assert found["first_step"] == {"kind": kind, "id": first}


@pytest.mark.parametrize(
    ("name", "section", "value"),
    [
        (
            "w12_oil_wildcatter",
            "checks",
            20,
        ),  # Shenoy 1992: drilling untested; the test is worth 12.5 before its cost
        ("w13_used_car", "checks", 28),  # Howard 1962: the best without the test
    ],
)
def test_without_its_test_the_decision_is_worth_what_is_printed(tmp_path, name, section, value):
    text = file_of(name).read_text("utf-8")
    head, _, tail = text.partition(f"{section}:")
    path = tmp_path / "untested.yaml"
    path.write_text(head + "endings:" + tail.partition("endings:")[2], encoding="utf-8")
    assert planned(path)["value"] == pytest.approx(value, abs=1e-9)


def test_perfect_information_about_the_oil_is_worth_what_is_printed(tmp_path):
    text = file_of("w12_oil_wildcatter").read_text("utf-8")
    head, _, tail = text.partition("checks:")
    sure = (
        "checks:\n  know: {cost: 0, outcomes: [dry, wet, soaking], "
        "under: {wet: {wet: 1}, soaking: {soaking: 1}}}\n"
    )
    path = tmp_path / "known.yaml"
    path.write_text(head + sure + "endings:" + tail.partition("endings:")[2], encoding="utf-8")
    assert planned(path)["value"] == pytest.approx(
        20 + 35, abs=1e-9
    )  # Shenoy 1992: perfect information is worth 35


def test_no_folder_of_models_is_crowded_and_each_model_names_its_source():
    folders = {path.parent for path in MODELS.rglob("*.yaml")}
    assert {folder.parent for folder in folders} == {MODELS}
    for folder in folders:
        assert len(list(folder.iterdir())) <= 20
    for path in MODELS.rglob("*.yaml"):
        assert path.read_text("utf-8").startswith("# "), path.name
