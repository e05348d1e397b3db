"""Tables of lives that show no law, or are no tables, are refused in words; none crashes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money import Replacement, Weibull, repair_or_new
from counterpoise.money.fit import Lives, fit_weibull
from counterpoise.money.records import decoded, read_lives

YEARS = st.floats(1e-300, 1e6, allow_nan=False)


@pytest.mark.parametrize(
    "years",
    [
        (5.0, 5.0000001, 5.0000002),
        (5.0, 5.0, 5.0, 5.0 + 1e-9),
        (1e-300, 5.0, 7.0, 9.0),
        (1e-200, 1e-100, 1.0),
        (1e-9, 1.0, 1e9),
    ],
)
def test_lives_without_a_law_are_refused(years):
    with pytest.raises(InputError) as refused:
        fit_weibull(Lives.of(years))
    assert refused.value.remedy


@pytest.mark.parametrize("gap", [1e-12, 1e-9, 1e-6, 1e-3])
def test_machines_that_were_first_seen_as_they_failed_say_nothing_of_a_life(gap):
    years = (5.0, 6.0, 7.0, 8.0)
    with pytest.raises(InputError, match=r"leave the law open|show no law"):
        fit_weibull(Lives.of(years, entered=[each - gap for each in years]))


def test_machines_watched_for_years_before_they_failed_do():
    years = (5.0, 6.0, 7.0, 8.0, 9.0, 11.0)
    fit = fit_weibull(Lives.of(years, entered=[each - 4.0 for each in years]))
    assert 5.0 < fit.life.scale_years < 11.0


@given(st.lists(st.tuples(YEARS, st.floats(0, 1)), min_size=3, max_size=8))
def test_any_lives_are_fitted_or_refused(lives):
    years = [life for life, _ in lives]
    try:
        fit = fit_weibull(Lives.of(years, entered=[life * share for life, share in lives]))
    # any other error fails the test
    except InputError:
        fit = None
    assert fit is None or 0.0 < fit.shape_se < fit.life.shape
    assert fit is None or 0.0 < fit.scale_se < fit.life.scale_years


@pytest.mark.parametrize(
    ("text", "field", "said"),
    [
        ("years,years\n5,6\n", "years", "2 columns years"),
        ("years,failed, Failed\n5,yes,no\n", "failed", "2 columns failed"),
        ("years,entered,ENTERED\n5,1,2\n", "entered", "2 columns entered"),
        ("years\n5248\n", "years", "5248 days are 14.4"),
        ("years\n120\n", "years", "120 months are 10.0"),
        ("years\n40000\n", "years", "from 0.001 to 100"),
        ("years\n1e-300\n", "years", "from 0.001 to 100"),
        ("years\n0\n", "years", "from 0.001 to 100"),
        ("years\nnan\n", "years", "from 0.001 to 100"),
        ("years,entered\n5,-1\n", "years", "from 0.001 to 100"),
        ('years,failed\n5,"' + "x" * 200_000 + "\n", "file", "quote"),
    ],
)
def test_what_is_wrong_with_a_table_is_said(text, field, said):
    with pytest.raises(InputError) as refused:
        read_lives(text)
    assert refused.value.field == field
    assert said in str(refused.value)


def test_other_columns_may_stand_twice():
    assert read_lives("years,note,note\n5,a,b\n").years.tolist() == [5.0]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
def test_a_table_is_read_in_the_encodings_of_spreadsheets(encoding):
    text = "years,note\n5,Küche\n"
    mark = b"\xff\xfe" if encoding == "utf-16-le" else b""
    assert read_lives(decoded(mark + text.encode(encoding))).years.tolist() == [5.0]


@pytest.mark.parametrize("data", [b"\x00\x01\xff", "years\n5\n".encode("utf-16")[2:], b"\xff\xfe5"])
def test_what_is_no_text_is_refused(data):
    with pytest.raises(InputError, match="no text that can be read"):
        decoded(data)


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_an_age_is_weighed_or_refused(age):
    life = Weibull(2.2, 13.9)
    if 0.0 <= age <= 1000.0:
        assert life.service_years(age) >= 0.0
        assert life.mean_residual(age) >= 0.0
    else:
        for ask in (life.service_years, life.mean_residual, life.mean_residual):
            with pytest.raises(InputError, match="is not possible"):
                ask(age)


@pytest.mark.parametrize("shape", [0.2, 2.2, 20.0])
@pytest.mark.parametrize("scale", [0.5, 13.9, 100.0])
@pytest.mark.parametrize("age", [0.0, 70.0])
def test_every_law_that_can_be_set_weighs_every_age_of_a_job(shape, scale, age):
    answer = repair_or_new(Replacement(62000, Weibull(shape, scale)), age, 5000)
    assert math.isfinite(answer.years_left)
    assert answer.yearly_repaired_minor >= 0
