"""Small helpers of wording shared by the workshop's messages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches


def did_you_mean(given: str, known: Iterable[str] | Mapping[str, str]) -> str:
    """Return ``"Did you mean ...?"``, or the choices where nothing is near.

    ``known`` are ids, as a mapping with their titles, either of which somebody may have typed.
    """
    # capitals are no typo
    titles = {name.casefold(): name for name in known}
    if isinstance(known, Mapping):
        titles |= {str(title).casefold(): name for name, title in known.items()}
    # 0.6 is the library's own bound: a typo or two in a word (common practice)
    near = get_close_matches(given.casefold(), titles, n=1, cutoff=0.6)
    if near:
        return f"Did you mean {titles[near[0]]}?"
    names = list(known)
    # a remedy is a sentence; a catalog has a hundred checks
    if len(names) > 12:
        return f"Known are {', '.join(names[:12])} and {len(names) - 12} more"
    return f"Known are {', '.join(names)}" if names else "None are known"
