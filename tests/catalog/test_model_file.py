import re
from pathlib import Path

import pytest

from counterpoise.catalog.model_file import load_model, parse_model
from counterpoise.errors import ModelError
from counterpoise.reasoning.model import Access, Check, Ending, Fault, Repair, Retest

WHOLE = """\
prior: independent
max_faults: 2
nothing_wrong: true
faults:
  pump: 0.3
  belt_early: {prior: 1e-1, group: belt}
  belt_gone: {prior: 2E-1, group: belt}
  load: {prior: 0, alone: true}
  7: 1.0e-3
access:
  lid: {open: 3, close: 3.5, behind: null}
  deep: {open: 1, behind: lid}
checks:
  listen:
    cost: 2
    access: null
    outcomes: [yes, no, off]
    under: {belt_gone: {no: 0.3, off: .5}, 7: {yes: 0.25, no: 0.25, off: 0.5}}
    otherwise: {no: 5e-2}
    exclusive: true
repairs:
  new_belt: {cost: 40, access: deep, cures: {belt_early: 1, belt_gone: 0.9}}
retest: {cost: 5, misses: 0.1, comeback: 30}
working: 100
endings:
  scrap: {value: -10}
  part_out: {base: 20, value: {pump: -15}}
  drill: {value: {pump: -70, 7: 200}}
  walk_off: -1
"""


def test_every_key_is_read():
    model = parse_model(WHOLE)
    assert model.faults == (
        Fault("pump", 0.3),
        Fault("belt_early", 0.1, "belt"),
        Fault("belt_gone", 0.2, "belt"),
        Fault("load", 0, None, alone=True),
        Fault("7", 0.001),
    )
    assert (model.prior, model.max_faults, model.nothing_wrong, model.working) == (
        "independent",
        2,
        True,
        100,
    )
    assert model.access == (Access("lid", 3, 3.5), Access("deep", 1, 0, "lid"))
    under = {"belt_gone": {"no": 0.3, "off": 0.5}, "7": {"yes": 0.25, "no": 0.25, "off": 0.5}}
    assert model.checks == (
        Check("listen", 2, ("yes", "no", "off"), under, {"no": 0.05}, None, exclusive=True),
    )
    assert model.repairs == (Repair("new_belt", 40, {"belt_early": 1, "belt_gone": 0.9}, "deep"),)
    assert model.retest == Retest(5, 0.1, 30)
    assert model.endings == (
        Ending("scrap", -10),
        Ending("part_out", 20, {"pump": -15}),
        Ending("drill", 0, {"pump": -70, "7": 200}),
        Ending("walk_off", -1),
    )


def test_only_faults_must_be_given_and_empty_sections_are_empty():
    for text in (
        "faults: {a: 1}",
        "faults: {a: 1}\nchecks:\nrepairs: {}\naccess: null\nendings:\nretest:\n",
    ):
        model = parse_model(text)
        assert (model.prior, model.max_faults, model.working, model.retest) == (
            "exactly_one",
            3,
            0,
            Retest(),
        )
        assert (model.access, model.checks, model.repairs, model.endings) == ((), (), (), ())


def test_json_is_read_too():
    assert parse_model('{"faults": {"a": 0.25, "b": 7.5e-1}}').faults == (
        Fault("a", 0.25),
        Fault("b", 0.75),
    )


MISTAKES = [
    (
        "pump: 0.3",
        "pump: 1.3",
        5,
        "faults.pump.prior: 1.3 is outside its limits; it must be 1 or less",
    ),
    ("pump: 0.3", "pump: '0.3'", 5, "faults.pump.prior: '0.3' is not a number"),
    ("pump: 0.3", "pump: yes", 5, "faults.pump.prior: 'yes' is not a number"),
    ("pump: 0.3", "pump: .inf", 5, "faults.pump.prior: inf is"),
    ("pump: 0.3", "pump: 0.3\n  pump: 0.4", 6, "key pump is given twice, first in line 5"),
    ("group: belt}", "grp: belt}", 6, "unknown key grp; did you mean group?"),
    (
        "prior: independent",
        "prior: independant",
        1,
        "'independant' is not allowed; did you mean independent?",
    ),
    ("max_faults: 2", "max_faults: 0", 2, "max_faults: 0 is outside its limits"),
    ("max_faults: 2", "max_faults: 2.5", 2, "max_faults: 2.5 is not a whole number"),
    ("nothing_wrong: true", "nothing_wrong: yes", 3, "'yes' is not true or false"),
    ("working: 100", "workin: 100", 24, "unknown key workin; did you mean working?"),
    ("open: 3,", "open: -3,", 11, "access.lid.open: -3 is outside its limits"),
    ("behind: null", "behind: deep", 11, "access.lid: it lies behind itself"),
    ("behind: lid", "behind: lit", 12, "there is no access lit; did you mean lid?"),
    ("    cost: 2\n", "", 14, "checks.listen.cost: cost is missing; add it"),
    ("cost: 2", "cost: -2", 15, "checks.listen.cost: -2 is outside its limits"),
    ("[yes, no, off]", "[yes, no, no, off]", 17, "an outcome is named twice"),
    ("{no: 0.3, off: .5}", "{no: 0.3, of: .5}", 18, "there is no outcome of; did you mean off?"),
    (
        "{no: 0.3, off: .5}",
        "{no: 0.6, off: .5}",
        18,
        "checks.listen.under.belt_gone: the chances sum to 1.1",
    ),
    ("{belt_gone: {no", "{belt: {no", 18, "there is no fault belt"),
    (
        "yes: 0.25, no: 0.25",
        "yes: 0.2, no: 0.2",
        18,
        "every outcome is named but the chances sum to 0.9",
    ),
    (
        "otherwise: {no: 5e-2}",
        "otherwise: {no: 1.5}",
        19,
        "checks.listen.otherwise.no: 1.5 is outside",
    ),
    ("access: deep", "access: cellar", 22, "there is no access cellar; known: deep, lid"),
    (
        "cures: {belt_early: 1,",
        "cures: {belt_erly: 1,",
        22,
        "there is no fault belt_erly; did you mean belt_early?",
    ),
    (
        "misses: 0.1",
        "misses: 1",
        23,
        "retest.misses: 1 is outside its limits; it must be less than 1",
    ),
    ("{value: -10}", "{}", 26, "endings.scrap: the ending has no value"),
    ("{value: -10}", "{value: low}", 26, "endings.scrap.value: 'low' is not a table"),
    ("{pump: -15}", "{pum: -15}", 27, "there is no fault pum; did you mean pump?"),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), MISTAKES)
def test_a_mistake_is_told_with_its_line_and_a_remedy(tmp_path, old, new, line, message):
    assert old in WHOLE
    path = tmp_path / "m.yaml"
    path.write_text(WHOLE.replace(old, new, 1))
    with pytest.raises(ModelError) as caught:
        load_model(path)
    told = str(caught.value).splitlines()
    assert told[0] == "1 mistake found:"
    assert told[1].startswith(f"  m.yaml:{line}: ")
    assert message in told[1]
    assert re.search(r"; \S", told[1])


def test_all_mistakes_are_told_at_once():
    text = WHOLE
    for old, new in (
        ("pump: 0.3", "pump: 3"),
        ("cost: 2", "cost: -2"),
        ("access: deep", "access: x"),
        ("misses", "miss"),
    ):
        text = text.replace(old, new, 1)
    with pytest.raises(ModelError, match="4 mistakes found"):
        parse_model(text)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is empty"),
        ("- 1", "holds a list, not a table"),
        ("checks: {}", "faults is missing"),
        ("faults: {}", "faults: has too few entries"),
        ("faults: {a: 0, b: 0}", "every prior is zero"),
        ("prior: independent\nfaults: {a: 1, b: 0.5}", "a prior of 1 among independent faults"),
        ("faults: {a: [1}", "model:1: is not YAML"),
    ],
)
def test_what_is_no_model_is_told(text, message):
    with pytest.raises(ModelError, match=message):
        parse_model(text)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(ModelError, match=r"m\.yaml:1: cannot be read: No such file"):
        load_model(tmp_path / "m.yaml")


def test_the_example_of_the_manual_is_read():
    text = (Path(__file__).parents[2] / "docs" / "model.md").read_text(encoding="utf-8")
    example = re.search(r"```yaml\n(.*?)```", text, re.DOTALL).group(1)
    model = parse_model(example)
    assert [fault.group for fault in model.faults] == [None, "belt", "belt", None]
    assert model.endings[1] == Ending("part_out", 20, {"pump": -15})
