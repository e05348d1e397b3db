"""The settings page."""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import product

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from counterpoise.report.views.settings import (
    GROUPS,
    LABELS,
    SettingInput,
    choices_of,
    read_setting,
    setting_text,
)
from counterpoise.report.words.family_money import FamilyFigures, family_figures
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, redirect
from counterpoise.web.render import page
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings, family_key
from counterpoise.workshop.services.own_families.listing import known_families
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["settings"])


class SettingsIn(BaseModel):
    """The settings to change, by name; the others stay. A sum is in minor units.

    ``FAMILY.NAME`` holds for one family; null takes it back.
    """

    model_config = ConfigDict(extra="forbid")

    changes: dict[str, bool | int | float | str | list[str] | None] = Field(max_length=400)


@dataclass(frozen=True, slots=True)
class SettingsAnswer(Settings):
    """The settings, and what holds for the machines of each family, each with where it is from."""

    families: tuple[FamilyFigures, ...] = ()


@dataclass(frozen=True, slots=True)
class SettingField:
    """A setting as a field of the page; ``choices``, with their words, are empty for most.

    ``kind`` is text, number, tick or choice.
    """

    name: str
    label: str
    text: str
    kind: str
    choices: tuple[tuple[str, str], ...] = ()
    # of a family's figure: what holds where the field is left empty, and where that is from
    instead: str = ""
    where: str = ""


def _field(settings: Settings, name: str) -> SettingField:
    value = getattr(settings, name)
    kind = (
        "tick"
        # Asked first: in Python a bool is an int too.
        if isinstance(value, bool)
        else "number"
        if isinstance(value, int | float)
        else "text"
    )
    choices = choices_of(name)
    label = LABELS[name].format(currency=settings.currency)
    return SettingField(
        name, label, setting_text(name, value), "choice" if choices else kind, choices
    )


def _of_family(settings: Settings, figures: FamilyFigures) -> list[SettingField]:
    """The figures of a family as fields, empty where the workshop has set none."""
    out = []
    for figure in figures.figures:
        label = LABELS[figure.name].format(currency=settings.currency)
        set_here = figure.origin == "workshop"
        general = getattr(settings, figure.name)
        behind = general if figure.of_family is None else figure.of_family
        out.append(
            SettingField(
                family_key(figures.family, figure.name),
                label,
                setting_text(figure.name, figure.value) if set_here else "",
                "number",
                instead=setting_text(figure.name, behind),
                where=figure.where,
            )
        )
    return out


@pages.get("/settings", include_in_schema=False)
def settings_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the settings. Raises StoreError."""
    now = workshop.settings()
    groups = [
        {"title": title, "fields": [_field(now, name) for name in names]}
        for title, names in GROUPS.items()
    ]
    kinds = [family_figures(family, now) for family in workshop.families.values()]
    by_family = [
        {"title": kind.title, "assumed": kind.assumed, "fields": _of_family(now, kind)}
        for kind in kinds
    ]
    return page(
        request,
        "workshop/settings.html",
        settings=now,
        groups=groups,
        by_family=by_family,
        families=known_families(workshop.families),
    )


@api.get("/settings")
def settings(workshop: WorkshopDep) -> SettingsAnswer:
    """The settings, sums in minor units, whether changed or as they come; and by family."""
    return _answer(workshop, workshop.settings())


@pages.post("/settings", include_in_schema=False)
def change_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Change what differs. Raises InputError naming the setting."""
    now = workshop.settings()
    changes: dict[str, object] = {}
    for name in LABELS:
        value = getattr(now, name)
        # A box that is not ticked is not sent at all: absent means no.
        sent = ("yes" if form.text(name) else "no") if isinstance(value, bool) else form.text(name)
        # Only what differs: two people with the page open do not undo each other's changes to
        # other settings.
        if sent != setting_text(name, value):
            changes[name] = read_setting(name, sent)
    changes |= _changes_of_families(workshop, now, form)
    if changes:
        workshop.change_settings(changes)
    return redirect("/settings")


def _changes_of_families(workshop: Workshop, now: Settings, form: Form) -> dict[str, SettingInput]:
    changes: dict[str, SettingInput] = {}
    for family, name in product(workshop.families, BY_FAMILY):
        key, value = family_key(family, name), now.set_for(family, name)
        # A page of before that has no such field takes nothing back.
        if key in form.data and form.text(key) != setting_text(name, value):
            # An emptied field means the family's own figure again.
            changes[key] = read_setting(key, form.text(key)) if form.text(key) else None
    return changes


@api.post("/settings")
def change(workshop: WorkshopDep, sent: SettingsIn) -> SettingsAnswer:
    """Change some settings; all or none. A fault (422) names the setting."""
    return _answer(workshop, workshop.change_settings(sent.changes))


def _answer(workshop: Workshop, now: Settings) -> SettingsAnswer:
    figures = tuple(family_figures(family, now) for family in workshop.families.values())
    # the fields as they are: records of families stay what they are
    return SettingsAnswer(
        **{part.name: getattr(now, part.name) for part in fields(now)}, families=figures
    )
