import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

TOY = """\
faults: {pump: 0.3, belt: 0.7}
access:
  lid: {open: 3, close: 3}
checks:
  listen: {cost: 2, outcomes: [quiet, hum], under: {pump: {hum: 1}}}
repairs:
  new_belt: {cost: 40, access: lid, cures: {belt: 1}}
  new_pump: {cost: 50, cures: {pump: 1}}
working: 100
endings:
  scrap: -10
"""


@pytest.fixture
def planned(tmp_path):
    def call(text, *words):
        path = tmp_path / "toy.yaml"
        path.write_text(text, encoding="utf-8")
        result = CliRunner().invoke(main, ["plan", str(path), *words])
        assert result.exception is None or isinstance(result.exception, SystemExit), (
            result.exception
        )
        return result

    return call


def test_the_answer_for_machines(planned):
    found = json.loads(planned(TOY, "--json").stdout)
    value = 0.3 * 50 + 0.7 * 54 - 2  # listen, then the right repair
    assert found["value"] == found["lower"] == pytest.approx(value)
    assert found["upper"] == pytest.approx(value, abs=1e-6)
    assert found["exact"] is True
    assert found["first_step"] == {"kind": "check", "id": "listen"}
    assert found["states"] >= 1


def test_the_answer_in_words(planned):
    text = planned(TOY).stdout
    assert text.splitlines()[0] == "First: Check listen"
    assert "Worth 50.8 on average; no plan does better" in text


def test_the_plan_as_a_tree(planned):
    text = planned(TOY, "--tree").stdout
    assert (
        "Check listen\n  quiet (70 %):\n    Repair: new_belt\n  hum (30 %):\n    Repair: new_pump\n"
        in text
    )
    tree = json.loads(planned(TOY, "--tree", "--json").stdout)["tree"]
    assert tree["step"] == {"kind": "check", "id": "listen"}
    assert [(one["result"], one["step"]["id"]) for one in tree["results"]] == [
        ("quiet", "new_belt"),
        ("hum", "new_pump"),
    ]
    assert [one["probability"] for one in tree["results"]] == pytest.approx([0.7, 0.3])


def test_a_plan_that_stops_at_once(planned):
    found = json.loads(planned("faults: {a: 1}\nendings: {leave: 3, scrap: 2}", "--json").stdout)
    assert (found["value"], found["first_step"]) == (3, {"kind": "ending", "id": "leave"})


def test_nothing_to_try_and_no_way_to_stop_is_an_ending_without_a_name(planned):
    found = json.loads(planned("faults: {a: 1}", "--json").stdout)
    assert (found["value"], found["exact"], found["first_step"]) == (
        0,
        True,
        {"kind": "ending", "id": ""},
    )
    assert "Nothing left that could help" in planned("faults: {a: 1}").stdout


MANY = "\n".join(
    [
        "faults: {" + ", ".join(f"f{i}: {i + 1}e-2" for i in range(9)) + "}",
        "checks:",
        *(
            f"  q{j}: {{cost: 1, outcomes: [no, yes], under: "
            "{"
            + ", ".join(
                f"f{i}: {{yes: {0.1 + 0.8 * ((i * (j + 2)) % 5) / 4:.2f}}}" for i in range(9)
            )
            + "}}"
            for j in range(4)
        ),
        "repairs:",
        *(f"  r{i}: {{cost: {3 + i % 4}, cures: {{f{i}: 0.9}}}}" for i in range(9)),
        "working: 40",
        "endings: {scrap: 5}",
    ]
)


def test_a_search_cut_short_still_gives_a_bracket_and_a_first_step(planned):
    whole = json.loads(planned(MANY, "--json").stdout)
    short = json.loads(planned(MANY, "--json", "--budget", "20").stdout)
    assert whole["exact"]
    assert not short["exact"]
    assert short["lower"] == short["value"] <= whole["value"] + 1e-9
    assert short["upper"] >= whole["value"] - 1e-9
    assert short["first_step"]["kind"] in {"check", "repair", "ending"}
    text = planned(MANY, "--budget", "20").stdout
    assert "Worth at least" in text
    assert "larger --budget" in text


def test_no_tree_is_drawn_of_a_plan_that_is_not_proven(planned):
    result = planned(MANY, "--tree", "--budget", "20")
    assert result.exit_code == 2
    assert "larger --budget" in result.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            TOY.replace("cost: 40", "cost: -40"),
            "toy.yaml:7: repairs.new_belt.cost: -40 is outside its limits",
        ),
        (TOY.replace("access: lid", "access: lit"), "there is no access lit; did you mean lid?"),
        (TOY.replace("working", "workin"), "unknown key workin; did you mean working?"),
        ("faults: [", "is not YAML"),
        ("", "is empty"),
        ("\x00\x01", "toy.yaml"),
    ],
)
def test_a_wrong_model_is_told_on_the_error_stream_and_as_json(planned, text, said):
    result = planned(text)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
    result = planned(text, "--json")
    assert result.exit_code == 2
    assert said in json.loads(result.stdout)["what"]
    assert result.stderr == ""


def test_too_many_sets_of_faults_are_refused(planned):
    faults = "{" + ", ".join(f"f{i}: 0.1" for i in range(150)) + "}"
    result = planned(f"prior: independent\nfaults: {faults}\nendings: {{scrap: 0}}")
    assert result.exit_code == 2
    assert "lower max_faults" in result.stderr


@pytest.mark.parametrize("words", [("missing.yaml",), (), (".",)])
def test_a_file_that_is_none_is_told(words):
    result = CliRunner().invoke(main, ["plan", *words])
    assert result.exit_code == 2
    assert "FILE" in result.stderr


def test_states_and_seconds_at_once_are_refused(planned):
    result = planned(TOY, "--seconds", "0.1", "--budget", "20")
    assert result.exit_code == 2
    assert "leave out --budget or --seconds" in result.stderr


def test_a_budget_of_nothing_is_refused(planned):
    assert planned(TOY, "--budget", "0").exit_code == 2


def test_the_example_of_the_manual_is_planned(tmp_path):
    manual = (Path(__file__).parents[2] / "docs" / "model.md").read_text("utf-8")
    path = tmp_path / "manual.yaml"
    path.write_text(manual.split("```yaml\n")[1].split("```")[0], encoding="utf-8")
    found = json.loads(CliRunner().invoke(main, ["plan", str(path), "--json"]).stdout)
    assert found["exact"]
    assert found["lower"] <= found["value"] <= found["upper"]


def test_a_time_may_be_given_in_place_of_a_number_of_states(planned):
    timed = json.loads(planned(TOY, "--json", "--seconds", "0.2").stdout)
    assert timed == json.loads(planned(TOY, "--json").stdout)
    assert planned(TOY, "--seconds", "0.2").stdout == planned(TOY).stdout


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        (("--seconds", "1", "--budget", "5"), "leave out --budget or --seconds"),
        (("--seconds", "1", "--tree"), "leave out --seconds"),
    ],
)
def test_options_that_exclude_one_another_are_refused(planned, words, remedy):
    result = planned(TOY, *words)
    assert result.exit_code == 2
    assert remedy in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("words", [("--budget", "0"), ("--seconds", "0"), ("--seconds", "nan")])
def test_no_states_and_no_time_are_refused(planned, words):
    assert planned(TOY, *words).exit_code == 2


def test_probabilities_and_values_of_a_tree_hold_together(planned):
    def walk(node):
        assert node["value"] <= 100.0
        results = node.get("results", [])
        assert sum(each["probability"] for each in results) <= node["probability"] + 1e-12
        return 1 + sum(map(walk, results))

    answer = json.loads(planned(MANY, "--tree", "--json").stdout)
    tree = answer["tree"]
    assert tree["probability"] == 1
    assert tree["value"] == answer["value"]
    assert tree["step"] == answer["first_step"]
    assert walk(tree) > 10


def test_names_cannot_write_over_the_terminal(planned):
    model = 'faults: {a: 1}\nendings: {"leave\\e[2Jnow": 3}'
    assert planned(model).stdout.splitlines()[0] == "First: Stop: leave[2Jnow"
    assert json.loads(planned(model, "--json").stdout)["first_step"]["id"] == "leave\x1b[2Jnow"


def test_the_same_file_gives_the_same_answer_each_time(planned):
    assert planned(MANY, "--tree").stdout == planned(MANY, "--tree").stdout


@pytest.mark.parametrize("prior", ["1e-320", "1e-300", "1e-13"])
@pytest.mark.parametrize("kind", ["exactly_one", "independent"])
def test_priors_that_cannot_be_told_from_zero_are_refused(planned, prior, kind):
    answer = planned(f"prior: {kind}\nfaults: {{a: {prior}, b: {prior}}}\nendings: {{stop: 0}}")
    assert answer.exit_code == 2
    assert "no prior reaches 1e-12; give chances that can be told from zero" in answer.stderr


def test_a_small_prior_beside_a_large_one_is_a_chance_like_any_other(planned):
    answer = planned("faults: {a: 0.5, b: 1e-13}\nendings: {stop: 0}")
    assert answer.exit_code == 0
