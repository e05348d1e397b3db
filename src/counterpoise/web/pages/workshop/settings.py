"""The settings page."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from counterpoise.report.views.settings import (
    CHOICE_WORDS,
    GROUPS,
    LABELS,
    read_setting,
    setting_text,
)
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, redirect
from counterpoise.web.render import page
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.settings_checks import CHOICES

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["settings"])


class SettingsIn(BaseModel):
    """The settings to change, by name; the others stay. A sum is in minor units."""

    model_config = ConfigDict(extra="forbid")

    changes: dict[str, bool | int | float | str | list[str] | None] = Field(max_length=80)


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
    choices = tuple((choice, CHOICE_WORDS[choice]) for choice in CHOICES.get(name, ()))
    label = LABELS[name].format(currency=settings.currency)
    return SettingField(
        name, label, setting_text(name, value), "choice" if choices else kind, choices
    )


@pages.get("/settings", include_in_schema=False)
def settings_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the settings. Raises StoreError."""
    now = workshop.settings()
    groups = [
        {"title": title, "fields": [_field(now, name) for name in names]}
        for title, names in GROUPS.items()
    ]
    return page(request, "workshop/settings.html", settings=now, groups=groups)


@api.get("/settings")
def settings(workshop: WorkshopDep) -> Settings:
    """The settings, sums in minor units, whether changed or as they come."""
    return workshop.settings()


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
    if changes:
        workshop.change_settings(changes)
    return redirect("/settings")


@api.post("/settings")
def change(workshop: WorkshopDep, sent: SettingsIn) -> Settings:
    """Change some settings; all or none. A fault (422) names the setting."""
    return workshop.change_settings(sent.changes)
