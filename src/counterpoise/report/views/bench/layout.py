"""What of a step lies open on the first screen of a phone: a hand taps without looking for it.

Heights are estimated from lengths of text at 360 px, the narrowest phone; the real ones are
measured in a browser by ``benchmarks.first_screen``. A wrong guess folds one text too many or too
few, and one tap opens it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.report.views.bench.care import Care
    from counterpoise.workshop.diagnosis.assessment import Step

# characters of a line: of running text, of a step's title, the same beside the drawn machine, of an
# answer over half the width and over all of it
_LINE, _TITLE, _BESIDE, _HALF, _WHOLE = 34, 22, 14, 13, 29
# an answer over half the width has three lines at most: two a row are still the lower
_SHORT = 3 * _HALF - 3
# px: the drawn machine beside the title; a 740 px screen without the bar and the head
_DRAWN = 109
_ROOM = 740 - 63 - 51
_SAVED, _TEXT, _TITLE_PX, _ROW, _MARK, _BETWEEN = 66, 22, 25, 55, 55, 7
# px: a field for a reading with its label, and the words between it and the answers
_READING = 135


@dataclass(frozen=True, slots=True)
class Layout:
    """``wide``: outcomes whose answer takes a row alone; ``folded``: what to do opens by a tap."""

    wide: frozenset[str] = frozenset()
    folded: bool = False


def layout(
    step: Step | None, care: Care, *, saved: bool, warnings: int = 0, drawn: bool = False
) -> Layout:
    """How a step is laid out; above it a line with Undo (``saved``) and ``warnings``.

    ``drawn``: the machine is drawn beside its title.
    """
    if step is None:
        return Layout()
    answers = [(answer.outcome, answer.label) for answer in step.answers]
    wide = wide_answers(answers)
    # a repair is read while it is done, and its button pressed long after
    if step.kind not in {"check", "proof"}:
        return Layout(wide)
    title = _TITLE_PX * _lines(step.title, _BESIDE if drawn else _TITLE) + _TEXT
    above = _SAVED * saved + _ROW * warnings + max(title, _DRAWN * drawn)
    cautions = sum(_TEXT * _lines(text, _LINE) for text in care.full)
    cautions += 2 * _BETWEEN * bool(care.full) + _MARK * bool(care.marks)
    asked = _TEXT * _lines(step.question, _LINE) + 2 * _BETWEEN
    reading = _READING * bool(step.unit)
    needed = above + cautions + _handling(step) + asked + reading + _rows(answers, wide)
    return Layout(wide, needed > _ROOM and _handling(step) > _MARK)


def asked_only(step: Step, family: Family) -> bool:
    """Whether a step is a question to the owner: no place of the machine to be shown."""
    return step.kind == "check" and family.checks[step.id].kind == "ask"


def _handling(step: Step) -> int:
    """The height of what is to be opened and done, px."""
    texts = [text for opening in step.openings for text in (opening.title, *opening.steps)]
    return sum(_TEXT * _lines(text, _LINE - 3) + _BETWEEN // 2 for text in (*texts, *step.steps))


def _rows(answers: list[tuple[str, str]], wide: frozenset[str]) -> float:
    """The height of the answers (outcome, label), px; half of its row for one that shares it."""
    whole = (_lines(label, _WHOLE) for outcome, label in answers if outcome in wide)
    halves = (_lines(label, _HALF) for outcome, label in answers if outcome not in wide)
    row = (_ROW + 18 * max(0, lines - 2) for lines in whole)
    return sum(row) + sum((_ROW + 18 * max(0, lines - 2)) / 2 for lines in halves)


def _lines(text: str, width: int) -> int:
    return ceil(len(text) / width)


def wide_answers(answers: Iterable[tuple[str, str]]) -> frozenset[str]:
    """The outcomes of (outcome, label) that take a row: too long for half, or without a mate."""
    wide: list[str] = []
    alone = ""
    for outcome, label in answers:
        if len(label) > _SHORT:
            # the short one before it has no mate either
            wide += [key for key in (alone, outcome) if key]
            alone = ""
        else:
            alone = "" if alone else outcome
    return frozenset([*wide, alone] if alone else wide)
