"""The way of a finding stays short: a file, a form or a copy more is a decision, not an accident."""

import pytest
from tools.finding_path import CHECK, MARK, WAYS, Way, depth, is_form, shape, trace, watch

from counterpoise.workshop.jobs.entries import Entry, Finding, Job

# (files, forms, copies) as measured; lower them where the way gets shorter. Raised once, by one file
# that does something new with a finding; then by one on the page's way, which knows a form sent twice.
MOST = {"page": (13, 11, 15), "json": (11, 8, 11), "terminal": (11, 8, 11)}
FINDING = Finding(CHECK, "dusty", note=MARK)
ENTRY = Entry(2, "2026-03-01T09:00:00Z", "ada", FINDING)


@pytest.mark.parametrize("name", WAYS)
def test_a_finding_passes_no_more_files_and_forms_than_it_did(name, tmp_path):
    way = trace(name, tmp_path)
    figures = (len(way.files), len(way.forms), len(way.copies))
    assert all(now <= most for now, most in zip(figures, MOST[name], strict=True)), way.figures()
    # a trace that lost sight of the finding would count nothing and pass
    assert {"workshop/services/jobs.py", "workshop/diagnosis/replay.py"} <= set(way.files)
    assert "workshop.jobs.entries.Finding" in way.forms


@pytest.mark.parametrize(
    ("value", "steps"),
    [
        (MARK, 0),
        (MARK.encode(), 0),
        (FINDING, 1),
        ({"note": MARK}, 1),
        (ENTRY, 2),
        (Job(1, (ENTRY,)), None),  # a job around its entries is no form of one of them
        ([FINDING], None),
        (Finding(CHECK, "dusty"), None),
        (None, None),
        (3, None),
    ],
)
def test_how_deep_the_remark_lies(value, steps):
    assert depth(value) == steps


def test_a_remark_alone_is_no_form_but_a_text_of_the_whole_is():
    assert not is_form(MARK)
    assert is_form(f'{{"check": "{CHECK}", "note": "{MARK}"}}')
    assert is_form(FINDING)


def test_equal_fields_are_one_shape_and_other_fields_another():
    assert shape({"note": MARK, "check": 1}) == shape({"check": 2, "note": MARK})
    assert shape({"note": MARK}) != shape({"text": MARK})
    assert shape(FINDING) == "workshop.jobs.entries.Finding"


def test_what_is_not_the_program_s_is_not_watched(tmp_path):
    way = Way()

    class Frame:
        """A frame of another file."""

        class f_code:  # noqa: N801
            co_filename = str(tmp_path / "other.py")

    assert watch(way)(Frame, "call", None) is None
    assert not way.files
