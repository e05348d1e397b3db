"""Charts on pages: places, words, letters of one size, nothing that a reader could break."""

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.report.figures.chart import Chart, round_ticks
from counterpoise.report.figures.money_axis import Amount, money_axis

SVG = "{http://www.w3.org/2000/svg}"
WAYS = (
    Amount("Repair", 9600, 2000, 15000, leads=True),
    Amount("Part out", 6000, 4000, 7000),
    Amount("Scrap", -1000, -1000, -1000),
)


def share(of):
    return float(of.removesuffix("%"))


def marks(drawn):
    return {
        row: share(each.get("x"))
        for row, each in enumerate(
            rect for rect in ET.fromstring(drawn).iter(f"{SVG}rect") if rect.get("transform")
        )
    }


def test_all_ways_stand_on_one_axis_with_its_zero():
    drawn = money_axis(WAYS, "EUR")
    texts = [text.text for text in ET.fromstring(drawn).iter(f"{SVG}text")]
    assert {"Repair", "96 EUR", "Part out", "Scrap", "−10 EUR", "0 EUR"} <= set(texts)
    placed = marks(drawn)
    zero = {
        share(line.get("x1"))
        for line in ET.fromstring(drawn).iter(f"{SVG}line")
        if "stroke-ink" in line.get("class")
    }
    assert len(zero) == 1
    assert placed[2] < zero.pop() < placed[1] < placed[0]
    # a third of the way between two amounts is a third of the way between their marks
    assert (placed[1] - placed[2]) / (placed[0] - placed[2]) == pytest.approx(70 / 106, abs=1e-3)


def test_the_axis_is_said_in_words_and_is_empty_without_ways():
    said = ET.fromstring(money_axis(WAYS, "EUR")).get("aria-label")
    assert said == "Repair 96 EUR (20 to 150 EUR); Part out 60 EUR (40 to 70 EUR); Scrap −10 EUR."
    assert money_axis((), "EUR") == ""


def test_what_somebody_wrote_is_no_markup():
    drawn = money_axis((Amount('<b>"x"&', 100, 0, 200),), "EUR")
    texts = [text.text for text in ET.fromstring(drawn).iter(f"{SVG}text")]
    assert '<b>"x"&' in texts


@given(
    st.lists(
        st.tuples(*[st.integers(-(10**11), 10**11)] * 3).map(
            lambda three: Amount("a", sum(three) // 3, min(three), max(three))
        ),
        min_size=1,
        max_size=6,
    )
)
def test_whatever_the_amounts_nothing_leaves_the_chart(amounts):
    drawn = ET.fromstring(money_axis(amounts, "EUR"))
    for rect in drawn.iter(f"{SVG}rect"):
        left = share(rect.get("x"))
        across = rect.get("width")
        right = left + share(across) if across.endswith("%") else left
        assert 0 <= left <= right <= 100.5


@given(
    st.floats(-1e9, 1e9, allow_nan=False), st.floats(1e-3, 1e9, allow_nan=False), st.integers(2, 8)
)
def test_ticks_lie_inside_and_are_few(low, span, most):
    ticks = round_ticks(low, low + span, most)
    assert 1 <= len(ticks) <= most or low + span == low
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in ticks)


def test_a_curve_breaks_where_nothing_is_known():
    nan = float("nan")
    chart = Chart(100)
    chart.curve([(0, 0), (0.2, 0.5), (0.4, nan), (0.6, 1), (1, 0), (nan, 0)], (0, 100))
    lines = list(ET.fromstring(chart.svg("a curve")).iter(f"{SVG}polyline"))
    assert [line.get("points") for line in lines] == [
        "0.0,1000.0 200.0,500.0",
        "600.0,0.0 1000.0,1000.0",
    ]


def test_on_paper_the_width_is_fixed_and_a_curve_keeps_its_thickness():
    chart = Chart(100, 400)
    chart.curve([(0, 0), (1, 1)], (0, 80))
    drawn = ET.fromstring(chart.svg("a curve"))
    assert drawn.get("viewBox") == "0 0 400 100"
    assert drawn.find(f".//{SVG}polyline").get("points") == "0.0,80.0 400.0,0.0"
