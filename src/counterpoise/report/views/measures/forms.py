"""All measurements by hand that have a form, by kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from counterpoise.catalog.family import Family
from counterpoise.errors import NotFoundError
from counterpoise.report.views.measures.bearing import BEARING, BEARING_TONES
from counterpoise.report.views.measures.drum import PLAY, RUNOUT, STRIKE
from counterpoise.report.views.measures.electrical import SAFETY, WINDINGS
from counterpoise.report.views.measures.fields import MeasurementForm
from counterpoise.report.views.measures.handling import LIFT, TIP
from counterpoise.report.views.measures.interpretation import asks_for_number
from counterpoise.report.views.measures.level import KEPT_BOXES, LEVEL, LEVEL_AGAIN, WAS
from counterpoise.report.views.measures.suspension import (
    BOUNCE,
    COUNTERWEIGHT,
    DAMPERS,
    SPRINGS,
)
from counterpoise.report.words.machine_words import a_kind, spoken, spoken_cautions
from counterpoise.workshop.jobs.suggestions import did_you_mean

# in the order in which they are offered: outside of the machine first, then inwards
FORMS: dict[str, MeasurementForm] = {
    form.kind: form
    for form in (
        LEVEL, LEVEL_AGAIN, RUNOUT, STRIKE, PLAY, DAMPERS, BOUNCE, SPRINGS, COUNTERWEIGHT,
        BEARING, BEARING_TONES, WINDINGS, SAFETY, LIFT, TIP,
    )
}  # fmt: skip


# what is measured again, or worked out from the same readings, goes with what it belongs to
_WITH = {
    LEVEL_AGAIN.kind: LEVEL.kind,
    STRIKE.kind: RUNOUT.kind,
    BEARING_TONES.kind: BEARING.kind,
}
# whatever is mended is lifted, and proved safe before it goes back on the mains
_OF_EVERY_MACHINE = {SAFETY.kind, LIFT.kind}


def kinds_for(family: Family) -> tuple[str, ...]:
    """The kinds of measurement that fit a family: those that its checks name, and what goes along.

    Of a family whose checks name none, all that its feet and its body allow.
    """
    named = {check.measures.partition(".")[0] for check in family.checks.values()} - {""}
    body = family.body
    level = body.feet.number == 4 and body.feet.adjustable

    def fits_it(kind: str) -> bool:
        if kind == TIP.kind:
            return body.tips
        if not named:
            return level or LEVEL.kind not in {kind, _WITH.get(kind)}
        return kind in named | _OF_EVERY_MACHINE or _WITH.get(kind) in named

    return tuple(kind for kind in FORMS if fits_it(kind))


def refuse_unfit(kind: str, family: Family) -> None:
    """Raise NotFoundError where no check of the family names the measurement, and say so."""
    fit = kinds_for(family)
    if kind in FORMS and kind not in fit:
        named = {each: spoken(FORMS[each].title, family) for each in (kind, *fit)}
        raise NotFoundError(
            f"“{named[kind]}” is not measured on {a_kind(family.title)}: no check of the family"
            " names it",
            remedy=f"What fits: {', '.join(named[each] for each in fit)}.",
        )


def _answered(kind: str, family: Family, features: Mapping[str, str]) -> tuple[str, ...]:
    """The checks of a family with a number that a measurement of this kind answers."""
    main = _WITH.get(kind, kind) if kind == LEVEL_AGAIN.kind else kind
    named = [
        check.id for check in family.checks.values() if check.measures.partition(".")[0] == main
    ]
    # a file that names no measurement is served by the ids that the bench knows
    checks = named if any(c.measures for c in family.checks.values()) else FORMS[kind].checks
    # a check for a belt drive is no use on a direct one
    return tuple(check for check in checks if asks_for_number(family, check, features))


def form_for(
    kind: str, family: Family, features: Mapping[str, str] | None = None
) -> MeasurementForm:
    """A measurement, with those of its checks that fit a machine of these features.

    Raises NotFoundError for an unknown kind, and for one that does not fit the family.
    """
    if kind not in FORMS:
        raise NotFoundError(
            f"There is no measurement called {kind[:60]}", remedy=did_you_mean(kind[:60], FORMS)
        )
    refuse_unfit(kind, family)
    form = spoken_form(FORMS[kind], family)
    checks = _answered(kind, family, features or {})
    # only lifting and tipping ask for the machine's own mass; that of a counterweight is another
    if kind not in {LIFT.kind, TIP.kind}:
        return replace(form, checks=checks)
    usual = f"{family.typical_mass_kg:g}"
    fields = tuple(
        replace(field, default=usual) if field.id == "mass" else field for field in form.fields
    )
    return replace(form, checks=checks, fields=fields)


def spoken_form(form: MeasurementForm, family: Family) -> MeasurementForm:
    """A form in the words of a kind of machine; what programs send stays as it is."""

    def say(text: str) -> str:
        return spoken(text, family)

    fields = tuple(
        replace(
            field,
            label=say(field.label),
            hint=say(field.hint),
            boxes=tuple(map(say, field.boxes)),
            # the value of a choice is what is sent: only its words change
            choices=tuple((value, say(words)) for value, words in field.choices),
        )
        for field in form.fields
    )
    return replace(
        form,
        title=say(form.title),
        lead=say(form.lead),
        fields=fields,
        cautions=spoken_cautions(form.cautions, family),
    )


def values_to_confirm(form: MeasurementForm, typed: Mapping[str, str]) -> dict[str, str]:
    """What to type in to check a level after its feet were turned, the first readings kept.

    Empty for any other form.
    """
    if form.kind != LEVEL.kind:
        return {}
    return {
        name if name.startswith(KEPT_BOXES) else f"{WAS}{name}": text
        for name, text in typed.items()
    }


def kind_for_check(check: str, family: Family) -> str:
    """The kind of measurement that answers a check of this family; empty where none does."""
    # the first form that answers it: a check has one form, a form several checks
    for kind in kinds_for(family):
        if check in _answered(kind, family, {}):
            return kind
    return ""
