"""Charges and what is agreed: discounts as they are typed, kinds of parts, hostile input."""

from dataclasses import replace

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP

from counterpoise.errors import InputError
from counterpoise.workshop.billing.charges import charges_of, with_discounts
from counterpoise.workshop.billing.terms import Terms, checked_kinds
from counterpoise.workshop.parts.offers import NO_SUPPLY


def test_its_own_machine_costs_the_workshop_its_bench_alone():
    own = charges_of(SHOP, "workshop")
    assert own.hourly_minor == SHOP.bench_rate_minor
    assert (own.tax_percent, own.markup_percent, own.diagnosis_minor, own.callout_minor) == (
        0,
        0,
        0,
        0,
    )


def test_a_customers_charges_are_the_settings():
    charges = charges_of(SHOP, "customer")
    assert charges.hourly_minor == SHOP.labour_rate_minor
    assert charges.tax_percent == SHOP.tax_percent
    assert charges.ceiling_chance == SHOP.ceiling_percent / 100


def test_discounts_off_the_whole_add_up_and_those_of_lines_stay_apart():
    plain = charges_of(SHOP, "customer")
    less = with_discounts(plain, ["5%", "2,5 %".replace(" ", ""), "1.50", "labour:10%", "part: 3"])
    assert less.discount_percent == pytest.approx(7.5)
    assert less.discount_minor == 150
    assert [(d.on, d.percent, d.minor) for d in less.line_discounts] == [
        ("labour", 10.0, 0),
        ("part", 0.0, 300),
    ]
    assert replace(less, discount_percent=0.0, discount_minor=0, line_discounts=()) == plain


def test_no_discount_changes_nothing():
    plain = charges_of(SHOP, "customer")
    assert with_discounts(plain, []) == plain


@pytest.mark.parametrize("text", ["", "%", "x", "1.234", "1e9%%", "labour:", "ten%", "\x00%"])
def test_a_discount_that_cannot_be_read_is_refused(text):
    with pytest.raises(InputError):
        with_discounts(charges_of(SHOP, "customer"), [text])


def test_kinds_of_parts_by_id():
    chosen = checked_kinds(FRONT, [("belt", "used"), ("drain_pump", "new"), ("belt", "pattern")])
    assert chosen == {"belt": "pattern", "drain_pump": "new"}
    assert Terms(kinds=(("belt", "used"),)).choice(FRONT, NO_SUPPLY).kinds == {"belt": "used"}


@pytest.mark.parametrize(
    ("kinds", "said"),
    [((("belt", "stolen"),), "'stolen' is no kind"), ((("blet", "new"),), "there is no 'blet'")],
)
def test_a_part_or_kind_that_cannot_be_is_named(kinds, said):
    with pytest.raises(InputError, match=said) as raised:
        Terms(kinds=kinds).choice(FRONT, NO_SUPPLY)
    assert raised.value.field == "part"
    assert raised.value.remedy


def test_a_long_word_is_not_quoted_at_length():
    for kinds in ((("x" * 5000, "new"),), (("belt", "y" * 5000),)):
        with pytest.raises(InputError) as raised:
            checked_kinds(FRONT, kinds)
        assert len(str(raised.value)) < 300
