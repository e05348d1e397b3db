"""Whatever stands in a file of changes, the answer is a family or mistakes with lines: never a traceback."""

import io
import re
import shutil
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML
from tests.catalog.properties.test_any_file_is_answered import JUNK, places

from counterpoise.catalog.places import DATA
from counterpoise.catalog.schema.parsing import parse_family

SKELETON = DATA / "skeleton" / "family.yaml"
FIGURE = st.fixed_dictionaries(
    {"to": st.one_of(JUNK, st.floats(0, 1)), "source": st.sampled_from(["workshop", "x"])},
    optional={"was": st.floats(0, 1), "why": JUNK},
)


@cache
def skeleton():
    return YAML(typ="safe", pure=True).load(SKELETON.read_text())


def named():
    """Places that are there, and such as nearly are."""
    there = [".".join(map(str, loc)) for loc in places(skeleton())]
    return st.one_of(
        st.sampled_from(there),
        st.sampled_from(there).map(lambda place: f"{place}.x"),
        st.sampled_from(there).map(lambda place: place.rpartition(".")[0] + ".new"),
        st.sampled_from(["", ".", "x", "faults", "faults..prior", "proof.", "checks.x.y.z"]),
    )


@st.composite
def changes(draw):
    table = {
        "changes": draw(st.one_of(st.just("my_machine"), JUNK)),
        "figures": draw(st.one_of(st.dictionaries(named(), st.one_of(FIGURE, JUNK), max_size=3), JUNK)),
        "cautions": draw(st.one_of(st.dictionaries(st.sampled_from(["unplug", "own", "x"]), JUNK), JUNK)),
        "add_cautions": draw(
            st.one_of(st.dictionaries(named(), st.one_of(st.lists(JUNK, max_size=2), JUNK), max_size=2), JUNK)
        ),
    }  # fmt: skip
    kept = draw(st.sets(st.sampled_from(sorted(table)), min_size=1))
    return {key: table[key] for key in table if key in kept or key == "changes"}


@pytest.fixture(scope="module")
def shipped(tmp_path_factory):
    return shutil.copy(SKELETON, tmp_path_factory.mktemp("any") / "my_machine.yaml")


@settings(
    max_examples=60, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(data=changes())
def test_changes_with_junk_anywhere_are_carried_out_or_told(shipped, data):
    out = io.StringIO()
    YAML(typ="safe", pure=True).dump(data, out)
    path = shipped.with_name("my_machine.changes.yaml")
    path.write_text(out.getvalue())
    report = parse_family(shipped, path)
    assert (report.family is None) == bool(report.problems)
    for problem in report.problems:
        assert re.match(r"my_machine\.changes\.yaml:\d+: .+; .+", problem), problem
