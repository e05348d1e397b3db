"""One store, several kinds: each figure of a family reaches whatever reckons with it, and no other kind.

For every figure the places that use it are listed; where one of them took the general setting, or the
figure of another kind, the list would not hold.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.web.workbench import STOCKED

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.family import MoneyEntry
from counterpoise.catalog.loader import Catalog, load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.report.views.guarantee import guarantees
from counterpoise.report.views.next_machine import yard
from counterpoise.report.views.worth import worth_of_kind
from counterpoise.report.words.family_money import REPLACING, assumed, figure_lines
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.billing.ledger import closing_terms, ledger
from counterpoise.workshop.billing.quote import quote_of
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.jobs.entries import Closed, Entry, Intake, Job
from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings
from counterpoise.workshop.jobs.settings_checks import changed
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.studies import calibration, study
from counterpoise.workshop.studies.checkpoints import StudyOrder
from counterpoise.workshop.studies.world import World

USUAL = MoneyEntry("invented", 62000, 26000, 11.0, 12.0, -1000, 9000, 25.0, 10.0, 2.2, 13.9)
# as no washing machine was ever worth, cost or lived
ABSURD = MoneyEntry("invented", 900000, 700000, 1.0, 60.0, 40000, 300, 2.0, 200.0, 9.0, 60.0)
PLAIN = replace(STOCKED, id="plain", money=USUAL)
GILDED = replace(STOCKED, id="gilded", money=ABSURD)
# what reckons with each figure; whatever is not named must not move
OWN, CUSTOMER, WORLD, GUARANTEE, WORTH = "own", "customer", "world", "guarantee", "worth"
USES = {
    "new_machine_minor": {CUSTOMER, WORTH},
    "resale_new_minor": {OWN, WORLD},
    "resale_fall_percent": {OWN, WORLD},
    "as_is_percent": {OWN, WORLD},
    "scrap_minor": {OWN, WORLD},
    "comeback_minor": {OWN, CUSTOMER, WORLD, GUARANTEE},
    "selling_minutes": {OWN, WORLD},
    "days_to_sell": {OWN},
    "life_shape": {CUSTOMER, WORTH, GUARANTEE},
    "life_scale_years": {CUSTOMER, WORTH, GUARANTEE},
}


def job(family, owner="workshop", number=1, *bodies, **more):
    intake = Intake(
        family, owner, f"{family} {number}", ("shakes",), 6.0, {"drive": "belt"}, **more
    )
    entries = [
        Entry(i, f"2026-03-0{i}T09:00:00Z", "", body) for i, body in enumerate([intake, *bodies], 1)
    ]
    return Job(number, tuple(entries))


def ways(family, settings, owner, **more):
    """The ways to end a job of this owner: worth, range and days of each."""
    assessed = assess(JobCase(job(family.id, owner, **more), family, settings), Effort(growths=1))
    return [(o.id, o.value_minor, o.low_minor, o.high_minor, o.days) for o in assessed.options]


def priced(family, settings):
    """What studies draw from: working value, comebacks and endings of machines of three ages."""
    world = World.of(family, settings)
    costed = [world.costed(age) for age in (0.0, 6.0, 15.0)]
    return [(p.working, p.retest, p.ending_values.round(6).tolist()) for p in costed]


def reckoned(family, settings, workshop):
    """What each place says of machines of a family."""
    workshop.store.settings.change({f.key: f.value for f in settings.by_family})
    shown = guarantees(workshop, family.id, 6.0, 5000)
    worth = worth_of_kind(family, settings, 6.0, 20000)
    return {
        OWN: ways(family, settings, "workshop"),
        CUSTOMER: ways(family, settings, "customer"),
        WORLD: priced(family, settings),
        GUARANTEE: [(r.again_minor, r.price_minor) for r in (*shown.repairs, shown.machine)],
        WORTH: (worth.years_left, worth.yearly_new_minor, worth.rules),
    }


@pytest.fixture
def shop(store):
    return Workshop(store, {"plain": PLAIN, "gilded": GILDED})


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("usual") / "workshop.db") as opened:
        yield reckoned(PLAIN, Settings(), Workshop(opened, {"plain": PLAIN}))


def test_every_figure_is_used_somewhere():
    assert set(USES) == set(BY_FAMILY)
    assert all(USES.values())


@pytest.mark.parametrize("name", BY_FAMILY)
def test_a_figure_of_the_file_reaches_all_that_use_it_and_nothing_else(store, usual, name):
    odd = replace(PLAIN, money=replace(USUAL, **{name: getattr(ABSURD, name)}))
    of_file = reckoned(odd, Settings(), Workshop(store, {"plain": odd}))
    assert {place for place in usual if of_file[place] != usual[place]} == USES[name]


@pytest.mark.parametrize("name", BY_FAMILY)
def test_a_figure_set_by_the_workshop_counts_as_if_it_stood_in_the_file(store, name):
    odd = replace(PLAIN, money=replace(USUAL, **{name: getattr(ABSURD, name)}))
    settings = store.settings.change({f"plain.{name}": getattr(ABSURD, name)})
    places = [
        reckoned(family, settings, Workshop(store, {"plain": family})) for family in (PLAIN, odd)
    ]
    assert places[0] == places[1]


def test_general_settings_and_those_of_another_kind_change_nothing(shop, usual):
    for name in BY_FAMILY:
        shop.change_settings({name: getattr(ABSURD, name), f"gilded.{name}": getattr(ABSURD, name)})
    assert reckoned(PLAIN, shop.settings(), shop) == usual


def test_a_family_that_says_nothing_is_reckoned_with_the_general_settings(store, usual):
    silent = replace(PLAIN, money=None)
    shop = Workshop(store, {"plain": silent})
    assert reckoned(silent, Settings(), shop) == usual
    settings = shop.change_settings({name: getattr(ABSURD, name) for name in BY_FAMILY})
    gilded = reckoned(GILDED, Settings(), Workshop(store, {"gilded": GILDED}))
    # no kind of machine is named by anything reckoned here
    assert reckoned(silent, settings, shop) == gilded


def test_the_price_of_a_new_machine_that_a_job_says_goes_before_all(store):
    settings = store.settings.change({"plain.new_machine_minor": 80000})
    said = [
        ways(family, settings, "customer", new_machine_minor=31000) for family in (PLAIN, GILDED)
    ]
    assert said[0] != said[1]  # they live differently long
    lives_alike = replace(GILDED, money=replace(USUAL, new_machine_minor=900000))
    assert ways(lives_alike, settings, "customer", new_machine_minor=31000) == said[0]
    (line, *_) = figure_lines(PLAIN, settings, REPLACING, new_minor=31000)
    assert (line.value, line.origin) == (31000, "job")


def test_a_yard_of_several_kinds_weighs_each_by_its_own_money(shop):
    for number, family in enumerate(("plain", "gilded"), 1):
        shop.jobs.open(job(family, number=number).intake)
    # dear enough to be mended: else there is nothing to do at the bench
    shop.change_settings({"plain.resale_new_minor": 90000})
    both = {each.number: each for each in yard(shop, 24.0).bench}
    assert both[2].gain_minor > both[1].gain_minor
    assert yard(shop, 24.0).bench[0].number == 2
    # so little time that one of them must wait: the kind that is worth more is taken
    minutes = max(each.minutes for each in both.values())
    assert [each.number for each in yard(shop, minutes / 60 + 0.02).fits] == [2]
    # the other way round where the workshop knows better
    shop.change_settings({"gilded.resale_new_minor": 26000, "gilded.resale_fall_percent": 11.0})
    shop.change_settings({"plain.resale_new_minor": 700000, "plain.resale_fall_percent": 1.0})
    assert yard(shop, minutes / 60 + 0.02).bench[0].number == 1


def test_the_books_hold_what_came_in_whatever_a_kind_is_worth():
    """The ledger keeps money received, hours, parts, tax: no figure of a family is among them."""
    known = {"plain": PLAIN, "gilded": GILDED}
    lines = []
    for number, (name, family) in enumerate(known.items(), 1):
        terms = closing_terms(family, Settings(), job(name))
        closed = Closed("repair_resell", (), 20000, terms=terms)
        lines.append(job(name, "workshop", number, closed))
    month = ledger(known, Settings(), lines, "2026-03")
    first, second = month.lines
    assert replace(first, number=second.number, title=second.title) == second
    assert month.received_minor == 40000


def test_a_quote_weighs_the_repair_by_the_money_of_its_kind():
    told = []
    for family in (PLAIN, GILDED):
        case = JobCase(job(family.id, "customer"), family, Settings())
        assessed = assess(case, Effort(growths=1))
        told.append(quote_of(case, assessed, cost(case, ["replace_dampers"])))
    assert told[0] != told[1]


def test_studies_and_ranges_draw_from_the_money_of_the_family(monkeypatch):
    came_to = {}
    for family in (PLAIN, GILDED):
        monkeypatch.setattr(Catalog, "load", lambda _self, _name, known=family: known)
        ranges = [r for n in range(2) for r in calibration.play_job(family.id, 3, n)]
        played = study.run_study(StudyOrder(family.id, 4, 3, growths=1), workers=1)
        came_to[family.id] = (ranges, played)
    plain, gilded = came_to["plain"], came_to["gilded"]
    assert max(r.outcome for r in gilded[0]) > 10 * max(r.outcome for r in plain[0])
    assert gilded[1] != plain[1]
    assert np.isfinite([r.value for r in gilded[0]]).all()


def test_an_age_that_nobody_knows_is_reckoned_with_the_money_of_the_kind():
    values = []
    for family in (PLAIN, GILDED):
        at = job(family.id)
        unknown = replace(
            at, entries=(replace(at.entries[0], body=replace(at.intake, age_years=None)),)
        )
        case = JobCase(unknown, family, Settings(unknown_age_years=8.0))
        values.append(case.prices.resale)
    assert values == [pytest.approx(26000 * 0.89**8), pytest.approx(700000 * 0.99**8)]


def test_a_figure_of_a_shipped_file_that_the_workshop_changed_says_so():
    change = ChangedFigure("money.resale_new_minor", 26000, 31000, "workshop", "prices here")
    here = replace(PLAIN, money=replace(USUAL, resale_new_minor=31000), changes=(change,))
    (line,) = figure_lines(here, Settings(), ("resale_new_minor",))
    assert (line.value, line.origin) == (31000, "family")
    said = "by the family file, changed by this workshop from 260.00 EUR, workshop (prices here)"
    assert line.where == said
    added = replace(here, changes=(replace(change, shipped=None, why=""),))
    (line,) = figure_lines(added, Settings(), ("resale_new_minor",))
    assert line.where == "by the family file, added by this workshop, workshop"


def test_what_is_assumed_is_said_with_the_figures_and_how_to_set_them():
    silent = replace(PLAIN, money=None)
    said = assumed(silent, Settings())
    assert silent.title in said
    for text in ("620.00 EUR", "260.00 EUR", "11 %", "plain.new_machine_minor"):
        assert text in said
    assert assumed(PLAIN, Settings()) == ""
    half = replace(PLAIN, money=replace(USUAL, scrap_minor=None))
    assert "scrapping" in assumed(half, Settings())
    assert "620.00" not in assumed(half, Settings())
    # what the workshop has set is no longer assumed
    assert assumed(half, changed(Settings(), {"plain.scrap_minor": 0})) == ""


def test_a_spin_dryer_is_not_worth_what_a_washing_machine_is():
    """Nine years old it was "worth 340 EUR", and at sixteen a cracked basket was to be renewed."""
    known = load_family("spin_dryer")
    nine, sixteen = (Prices(known, Settings(), "customer", age) for age in (9.0, 16.0))
    assert nine.working < known.money.new_machine_minor < 20000
    assert sixteen.working < sixteen.repair_cost(known.repairs["replace_basket"])
    # with the general settings both were so
    washer = replace(known, money=None)
    nine, sixteen = (Prices(washer, Settings(), "customer", age) for age in (9.0, 16.0))
    assert nine.working == pytest.approx(34085, abs=1)
    assert sixteen.working > sixteen.repair_cost(known.repairs["replace_basket"])
