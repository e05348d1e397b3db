"""In which language a paper for a customer is made, and its texts put into that language."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING

from counterpoise.report.languages import tongue

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView


def paper_language(view: JobView) -> str:
    """The language of papers for a job's owner (ISO 639-1): theirs, else the workshop's.

    Empty where neither was said, or there are no texts in it: then whoever makes it decides.
    """
    return tongue.known(view.job.language) or tongue.known(view.settings.language)


def in_words(data: object, typed: Collection[str], at: str = "") -> object:
    """The data of a paper with every text in the language that is read just now.

    ``typed`` names the fields that a person wrote, which stay; ``at`` is the field's own name.
    Texts inside lists belong to the field that holds the list; a row stays where its label does.
    """
    if at in typed:
        return data
    if isinstance(data, str):
        return tongue.say(data)
    if isinstance(data, Mapping):
        # a label and its text: a name or a model stays as it was typed
        stays = {"text"} if data.get("label") in typed else set()
        # a remark says by a field of its own that somebody wrote it
        stays |= {"what"} if data.get("typed") else set()
        return {key: in_words(value, {*typed, *stays}, key) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [in_words(each, typed, at) for each in data]
    return data
