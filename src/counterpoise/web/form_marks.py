"""What every form that writes carries: a key of its own, and the page that it stands on.

Put in where a template is compiled, so that no form can be without.
"""

from __future__ import annotations

import re
import secrets

from jinja2.ext import Extension
from markupsafe import Markup

# Names that no field of an entry, a figure or a setting can have.
KEY, SHOWN_AT = "_key", "_page"
_FORM = re.compile(r'<form\b[^>]*\bmethod="post"[^>]*>')
# 96 bits: two forms of one workshop never share a key, and nobody guesses another's.
_KEY_BYTES = 12


class FormMarks(Extension):
    """Puts the marks after the start of each form that posts."""

    def preprocess(self, source: str, *_: str | None) -> str:
        """The source of a template with the call for the marks in each of its forms."""
        return _FORM.sub(lambda form: form.group() + "{{ form_marks() }}", source)


def form_marks(shown_at: str) -> Markup:
    """The hidden fields of one form: a new key, and the address of the page it is shown on."""
    fields = ((KEY, secrets.token_urlsafe(_KEY_BYTES)), (SHOWN_AT, shown_at))
    hidden = Markup('<input type="hidden" name="{}" value="{}">')
    return Markup("").join(hidden.format(*field) for field in fields)
