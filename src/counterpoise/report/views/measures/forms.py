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
from counterpoise.workshop.jobs.suggestions import did_you_mean

# in the order in which they are offered: outside of the machine first, then inwards
FORMS: dict[str, MeasurementForm] = {
    form.kind: form
    for form in (
        LEVEL, LEVEL_AGAIN, RUNOUT, STRIKE, PLAY, DAMPERS, BOUNCE, SPRINGS, COUNTERWEIGHT,
        BEARING, BEARING_TONES, WINDINGS, SAFETY, LIFT, TIP,
    )
}  # fmt: skip


def form_for(
    kind: str, family: Family, features: Mapping[str, str] | None = None
) -> MeasurementForm:
    """A measurement, with those of its checks that fit a machine of these features.

    Raises NotFoundError for an unknown kind.
    """
    if kind not in FORMS:
        raise NotFoundError(
            f"There is no measurement called {kind[:60]}", remedy=did_you_mean(kind[:60], FORMS)
        )
    form = FORMS[kind]
    # a check for a belt drive is no use on a direct one
    checks = tuple(check for check in form.checks if asks_for_number(family, check, features or {}))
    # only lifting and tipping ask for the machine's own mass; that of a counterweight is another
    if kind not in {LIFT.kind, TIP.kind}:
        return replace(form, checks=checks)
    usual = f"{family.typical_mass_kg:g}"
    fields = tuple(
        replace(field, default=usual) if field.id == "mass" else field for field in form.fields
    )
    return replace(form, checks=checks, fields=fields)


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
    for kind, form in FORMS.items():
        if check in form.checks and asks_for_number(family, check, {}):
            return kind
    return ""
