"""Whatever stands in a file, the answer is a family, a model, or a list of mistakes with lines: never a traceback."""

import copy
import io
import re
from functools import cache
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from counterpoise.catalog.loader import inspect_family
from counterpoise.catalog.model_file import parse_model
from counterpoise.errors import ModelError
from counterpoise.reasoning.model import Model

HERE = Path(__file__).parents[1]
JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 3),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from(["", "x", "damper", "damper:gone", "lid", "1e3", "from memory", "no: yes"]),
    st.lists(st.integers(0, 2), max_size=2),
    st.dictionaries(
        st.sampled_from(["damper", "title", "x", "behind"]), st.integers(0, 1), max_size=2
    ),
)
CALM = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@cache
def small():
    return YAML(typ="safe", pure=True).load((HERE / "files" / "small.yaml").read_text())


@cache
def manual():
    text = (HERE.parents[1] / "docs" / "model.md").read_text()
    return YAML(typ="safe", pure=True).load(
        re.search(r"```yaml\n(.*?)```", text, re.DOTALL).group(1)
    )


def places(data, loc=()):
    found = [loc] if loc else []
    inner = (
        data.items()
        if isinstance(data, dict)
        else enumerate(data)
        if isinstance(data, list)
        else ()
    )
    return found + [place for key, value in inner for place in places(value, (*loc, key))]


def spoiled(data, loc, junk):
    result = copy.deepcopy(data)
    here = result
    for part in loc[:-1]:
        here = here[part]
    here[loc[-1]] = junk
    out = io.StringIO()
    YAML(typ="safe", pure=True).dump(result, out)
    return out.getvalue()


@CALM
@given(data=st.data(), junk=JUNK)
def test_a_family_with_junk_anywhere_is_read_or_told(tmp_path_factory, data, junk):
    loc = data.draw(st.sampled_from(places(small())))
    folder = tmp_path_factory.mktemp("junk")
    (folder / "sources.yaml").write_text((HERE / "files" / "sources.yaml").read_text())
    (folder / "small.yaml").write_text(spoiled(small(), loc, junk))
    report = inspect_family(folder / "small.yaml")
    assert (report.family is None) == bool(report.problems)
    assert all(re.match(r"small\.yaml:\d+: .+; .+", problem) for problem in report.problems)


@CALM
@given(data=st.data(), junk=JUNK)
def test_a_model_with_junk_anywhere_is_read_or_told(data, junk):
    text = spoiled(manual(), data.draw(st.sampled_from(places(manual()))), junk)
    try:
        assert isinstance(parse_model(text), Model)
    except ModelError as error:
        told = str(error).splitlines()[1:]
        assert told, text
        assert all(re.match(r"  model:\d+: .+; .+", line) for line in told)


@CALM
@given(raw=st.binary(max_size=60) | st.text("{}[]:,-&*!|>#\n \"'ab1", max_size=60).map(str.encode))
def test_bytes_of_any_kind_are_told(tmp_path_factory, raw):
    path = tmp_path_factory.mktemp("raw") / "x.yaml"
    path.write_bytes(raw)
    report = inspect_family(path)
    assert report.family is None
    assert report.problems
