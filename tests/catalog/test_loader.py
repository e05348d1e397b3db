import re
import shutil
from pathlib import Path

import pytest

from counterpoise.catalog.loader import inspect_family, load_family
from counterpoise.errors import CatalogError, NotFoundError

FILES = Path(__file__).parent / "files"


@pytest.fixture
def write(tmp_path):
    """Write the small family with a change; a change that changes nothing is a mistake of the test."""
    shutil.copy(FILES / "sources.yaml", tmp_path / "sources.yaml")

    def change(*swaps):
        text = (FILES / "small.yaml").read_text()
        for old, new in swaps:
            assert text.count(old) >= 1, old
            text = text.replace(old, new, 1)
        path = tmp_path / "small.yaml"
        path.write_text(text)
        return path

    return change


def line_of(path, part):
    return next(
        number for number, text in enumerate(path.read_text().splitlines(), 1) if part in text
    )


def test_a_sound_file_becomes_records_with_every_number_form_read_right():
    family = load_family(FILES / "small.yaml")
    assert (family.id, family.currency, family.typical_mass_kg) == ("small", "EUR", 70)
    assert family.proof_misses == 0.06
    assert family.proof_source == "from memory"
    assert family.faults["belt"].prior == 0.01
    assert family.faults["damper"].age == ((0, 0.2), (5, 1), (12.5, 1.6))
    assert family.fault_keys == ("damper:early", "damper:gone", "belt", "bearing")
    assert family.faults["damper"].complaints["damper:gone"] == {"shakes": 0.9, "walks": 0.6}
    assert family.faults["belt"].complaints == {"belt": {"shakes": 0.2}}
    assert family.features["dampers"].values == {"2": "Two", "3": "Three"}
    assert family.access["inside"].needs == {"dampers": "3"}
    assert family.checks["push"].reading.edges == (1.5, 2.5)
    assert list(family.checks["look"].outcomes) == ["yes", "no"]
    assert family.checks["push"].steps == ("Push it down.", "Let go.")


def test_a_bare_fault_stands_for_all_its_grades():
    family = load_family(FILES / "small.yaml")
    assert family.repairs["new_dampers"].cures == {"damper:early": 0.97, "damper:gone": 0.97}
    assert family.assemblies["dampers"].spoiled_by == {"damper:early": 1, "damper:gone": 1}


def test_provenance_stays_with_each_entry():
    family = load_family(FILES / "small.yaml")
    assert family.faults["damper"].source == "prior: guide; otherwise: from memory"
    assert (
        family.checks["push"].source
        == "minutes: guide; under.bearing: invented; otherwise: from memory"
    )
    assert family.sources["guide"].title == "A guide of our own"
    assert family.sources["common practice"].title


def test_the_same_file_is_read_once_and_again_when_it_changed(write):
    path = write()
    assert load_family(path) is load_family(path)
    path.write_text(path.read_text().replace("A small machine", "Another machine"))
    assert load_family(path).title == "Another machine"


# what is changed in the sound file, what the message must say, and the words that mark its line
MISTAKES = [
    ("    prior: 0.1\n", "    prior: 1.1\n", "faults.damper.prior: 1.1 is outside its limits", "prior: 1.1"),
    ("prior: 0.2", "prior: -0.2", "faults.bearing.prior: -0.2 is outside its limits", "prior: -0.2"),
    ("prior: 0.2", "prior: often", "faults.bearing.prior: 'often' is not a number", "prior: often"),
    ("prior: 0.2", 'prior: "0.2"', "faults.bearing.prior: '0.2' is not a number", 'prior: "0.2"'),
    ("prior: 0.2", "prior: true", "faults.bearing.prior: true is not a number", "prior: true"),
    ("prior: 0.2", "prior: .nan", "faults.bearing.prior: nan is not a finite number", "prior: .nan"),
    ("price_minor: 4200", "price_minor: -1", "parts.damper_set.price_minor: -1 is outside", "price_minor"),
    ("price_minor: 4200", "price_minor: 42.5", "price_minor: 42.5 is not a whole number", "price_minor"),
    ("minutes: 35", "minutes: -35", "repairs.new_dampers.minutes: -35 is outside its limits", "minutes: -35"),
    ("minutes: 35", "minutes:", "repairs.new_dampers.minutes: nothing is not a number", "minutes:\n"),
    ("write_off: true", "writeoff: true", "unknown key writeoff; did you mean write_off?", "writeoff"),
    ("sd: 0.3}", "sd: 0.3, fallin: true}", "reading.fallin: unknown key fallin; did you mean falling?", "fallin"),
    ("currency: EUR", "currency: EUR\ntitel: B", "unknown key titel; did you mean title?", "titel"),
    ("currency: EUR", "currency: euro", "currency: 'euro' is not written as it must be", "currency: euro"),
    ("    title: Belt worn\n", "", "faults.belt.title: title is missing; add it", "  belt:"),
    ("    needs: {drive: belt}\n    twin: short_foot\n    source: from memory\n", "", "source is missing", "  belt:"),
    ("    twin: short_foot\n", "    twin: belt:2\n", "'belt:2' is not written as it must be", "belt:2"),
    ("    twin: short_foot\n", "    twin: short_foot\n    twins: {late: belt}\n", "there is no grade late", "late"),
    ("kind: measure", "kind: mesure", "'mesure' is not allowed; did you mean measure?", "kind: mesure"),
    ("{damper: 0.97}", "{dampr: 0.97}", "there is no fault dampr; did you mean damper?", "dampr"),
    ("{damper: 0.97}", "{damper:late: 0.97}", "there is no fault damper:late; did you mean", "damper:late"),
    ("{damper: 0.97}", "{damper: 0}", "repairs.new_dampers.cures: it cures nothing", "damper: 0}"),
    ("{damper: 0.97}", "{}", "repairs.new_dampers.cures: has too few entries", "cures: {}"),
    ("{damper: 0.97}", "{damper: 0.9, damper:gone: 0.8}", "damper:gone is given by damper and", "damper:gone: 0.8"),
    ("      early: {shakes: 0.5}", "      late: {shakes: 0.5}", "there is no grade late", "late:"),
    ("      early: {shakes: 0.5}", "      early: {shake: 0.5}", "no complaint shake; did you mean shakes?", "shake:"),
    ("      early: {shakes: 0.5}", "      walks: 0.5", "some rows are by grade and some are not", "    complaints:\n"),
    ("access: inside", "access: insid", "there is no access insid; did you mean inside?", "insid\n"),
    ("behind: lid", "behind: lit", "there is no access lit; did you mean lid?", "behind: lit"),
    ("behind: lid", "behind: inside", "access.inside: it lies behind itself", "behind: inside"),
    ("cautions: [turning_drum]", "cautions: [drum]", "proof.cautions.0: there is no caution drum", "[drum]"),
    ("{damper_set: 1}", "{damper_st: 1}", "there is no part damper_st; did you mean damper_set?", "damper_st:"),
    ("{damper_set: 1}", "{damper_set: 0}", "parts.damper_set: 0 is outside its limits", "damper_set: 0"),
    ("{drive: belt}", "{drive: chain}", "there is no value of drive chain; known: belt, direct", "chain"),
    ("{drive: belt}", "{driv: belt}", "there is no feature driv; did you mean drive?", "driv:"),
    ("{direct: 0.4, belt: 0.6}", "{direct: 0.4, belt: 0.5}", "the shares sum to 0.9", "belt: 0.5"),
    ("share: 0.6}", "share: 0.7}", "faults.damper.grades: the shares of the grades sum to 1.1", "grades:"),
    ("{prior: guide,", "{prior: guid,", "there is no source guid; did you mean guide?", "guid,"),
    ("{prior: guide,", "{priors: guide,", "there is no field priors; did you mean prior?", "priors"),
    ("assembly: dampers, source", "assembly: damprs, source", "no assembly damprs; did you mean dampers?", "damprs"),
    ("{no: 0.9}", "{non: 0.9}", "checks.look.under.belt.non: there is no outcome non", "non: 0.9"),
    ("{no: 0.9}", "{yes: 0.2, no: 0.9}", "checks.look.under.belt: the chances sum to 1.1", "no: 0.9"),
    ("{no: 0.9}", "{yes: 0.2, no: 0.7}", "every outcome is named but the chances sum to 0.9", "no: 0.7"),
    ("otherwise: {often: 0.01}", "otherwise: {seldom: 0.01}", "otherwise.seldom: there is no outcome", "seldom"),
    ("edges: [1.5, 2.5]", "edges: [1.5]", "1 edges part a reading into 2, not 3 outcomes", "edges: [1.5]"),
    ("edges: [1.5, 2.5]", "edges: [2.5, 1.5]", "edges: the edges [2.5, 1.5] are not ascending", "[2.5, 1.5]"),
    ("high: 20", "high: 2", "an edge lies outside low..high", "high: 2,"),
    ("0: 0.2, 5: 1", "5: 0.2, 0: 1", "the years are not ascending", "5: 0.2"),
    ("steps: [Do it.]", "steps: Do it.", "steps: 'Do it.' is not a list", "steps: Do it."),
    ("steps: [Do it.]", "steps: []", "steps: has too few entries", "steps: []"),
    ("  new_belt:", "  look:", "repairs.look: a check has the same id", "  look:\n    title: New"),
    ("title: A small machine", "title: A\ntitle: B", "key title is given twice, first in line 2", "title: B"),
    ("title: A small machine", "title: !!python/name:os.system x", "the tag", "python"),
    ("    cautions: [unplug]\n    steps: [Do it.]", "    steps: [Do it.]", "the grave caution unplug", "new_dampers:"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "message", "mark"),
    MISTAKES,
    ids=[f"{n}-{m[2][:30]}" for n, m in enumerate(MISTAKES)],
)
def test_a_mistake_is_told_with_its_line_and_a_remedy(write, old, new, message, mark):
    path = write((old, new))
    with pytest.raises(CatalogError) as caught:
        load_family(path)
    (problem,) = [one for one in caught.value.problems if message in one]
    text = path.read_text()
    assert problem.startswith(f"small.yaml:{text[: text.index(mark)].count(chr(10)) + 1}: ")
    assert re.search(r"; \S", problem)
    assert len(caught.value.problems) == 1


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(write):
    swaps = [
        m[:2]
        for m in MISTAKES
        if m[0] in {"currency: EUR", "prior: 0.2", "behind: lid", "minutes: 35"}
    ]
    chosen = list({old: (old, new) for old, new in swaps}.values())
    with pytest.raises(CatalogError) as caught:
        load_family(
            write(
                *chosen, ("title: A small machine", "title: A\ntitle: B"), ("{no: 0.9}", "{no: 2}")
            )
        )
    lines = [int(one.split(":")[1]) for one in caught.value.problems]
    assert lines == sorted(lines)
    assert len(caught.value.problems) == len(chosen) + 2
    assert str(caught.value).startswith(f"{len(lines)} mistakes found:\n  small.yaml:3: key title")


def test_several_mistakes_of_one_entry_are_told_together(write):
    path = write(
        ("kind: look", "kind: lok"),
        ("intake: true", "intak: true"),
        ("{belt: {no: 0.9}}", "{blt: {non: 0.9}}"),
    )
    with pytest.raises(CatalogError) as caught:
        load_family(path)
    told = "\n".join(caught.value.problems)
    assert all(
        part in told for part in ("'lok' is not allowed", "unknown key intak", "no fault blt")
    )


def test_broken_yaml_is_told_with_its_line(write):
    path = write(("values: {direct:", "values: [direct:"))
    with pytest.raises(
        CatalogError, match=rf"small.yaml:{line_of(path, 'values: [direct')}: is not YAML"
    ):
        load_family(path)


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", "is empty"),
        (b"- a\n- b\n", "holds a list, not a table"),
        (b"a: 1\nb: \xff\n", "x.yaml:2: is not UTF-8 text"),
        (b"a: &x [*x]\n", "endless"),
        (b"? [a, b]\n: 1\n", "a key must be one word"),
        (b"a: [" * 3000, "is nested too deeply|is not YAML"),
        (b"x" * 6_000_000, "the limit is 5000000"),
    ],
)
def test_what_is_no_family_at_all_is_told(tmp_path, raw, message):
    path = tmp_path / "x.yaml"
    path.write_bytes(raw)
    with pytest.raises(CatalogError, match=message):
        load_family(path)


def test_a_missing_section_and_a_section_of_the_wrong_shape_are_told(write):
    path = write(("parts:\n  damper_set", "partz:\n  damper_set"))
    told = inspect_family(path).problems
    assert any("unknown key partz; did you mean parts?" in one for one in told)
    assert any("parts is missing" in one for one in told)
    path = write(("complaints:\n  shakes", "complaints: none\nfoo:\n  shakes"))
    assert any(
        "complaints holds 'none', not a table" in one for one in inspect_family(path).problems
    )


def test_a_mistake_in_the_sources_is_told_under_their_own_name(write):
    path = write()
    (path.parent / "sources.yaml").write_text("guide: {titel: A guide}\n")
    told = inspect_family(path).problems
    assert any(
        one.startswith("sources.yaml:1: guide.titel: unknown key titel; did you mean title?")
        for one in told
    )


def test_an_unknown_family_is_told_with_what_to_do():
    with pytest.raises(NotFoundError, match="There is no family or file frontloader"):
        load_family("frontloader")


def test_faults_that_nothing_cures_or_shows_are_warnings(write):
    assert inspect_family(write()).warnings == ()
    report = inspect_family(
        write(
            ("cures: {belt: 1}", "cures: {damper: 1}"),
            ("{belt: {no: 0.9}}", "{bearing: {no: 0.9}}"),
        )
    )
    assert report.family is not None
    assert len(report.warnings) == 2
    assert "no repair cures belt" in report.warnings[0]
    assert "no check tells belt" in report.warnings[1]


def test_an_assembly_that_looks_like_a_slip_of_the_pen_is_a_warning(write):
    (warning,) = inspect_family(write(("assembly: motor", "assembly: moter"))).warnings
    assert "faults.belt.assembly: moter is named nowhere else; did you mean motor?" in warning
    assert inspect_family(write(("assembly: motor", "assembly: floor"))).warnings == ()
