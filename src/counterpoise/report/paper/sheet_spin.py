"""What a job's machine does in a spin, for its sheet: sound beside what is suspected most, or was found."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from threading import Lock
from typing import Literal

from counterpoise.dynamics.answers.sentences import comparison, heaviest_comparison
from counterpoise.dynamics.answers.what_if import WhatIf
from counterpoise.dynamics.machines.families import FAMILIES, build
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.errors import InputError
from counterpoise.report.paper.sheet import Sheet, SheetSpin
from counterpoise.report.views.job import JobView
from counterpoise.report.views.machine_figures import own_machine
from counterpoise.report.views.twin import simulated
from counterpoise.report.views.twin_question import read_question, suspected_faults

_one_at_a_time = Lock()
Form = Literal["wide", "tall", ""]


def with_spin(sheet: Sheet, view: JobView, *, drawn: bool = True) -> Sheet:
    """The sheet with the machine in motion where the model knows the kind; ``drawn``: with its figure."""
    return replace(sheet, spin=spin_of(view, form="wide" if drawn else ""))


def fault_of(view: JobView) -> str:
    """The mechanical fault to set beside the sound machine: what was found, else what is suspected most; or none."""
    closed = view.job.closed
    if closed is None:
        return next(iter(suspected_faults(view, view.family.id)), "")
    sound = build(view.family.id)
    entries = [view.family.faults.get(key.partition(":")[0]) for key in closed.faults]
    twins = [entry.twin for entry in entries if entry and entry.twin]
    return next((twin for twin in twins if twin in FAULTS and applies(sound, twin)), "")


def spin_of(view: JobView, *, form: Form = "wide") -> SheetSpin | None:
    """What it does in a spin; None where there is no model of the kind, or no mechanical fault to show.

    ``form`` of its figure: ``wide`` for paper, ``tall`` for a phone, empty for none.
    """
    if view.family.id not in FAMILIES or not view.in_motion:
        return None
    fault = fault_of(view)
    if not fault:
        return None
    try:
        question = read_question(view.family.id, {}, (fault,), own_machine(view.job, view.family))
        return _spun(question, form)
    except InputError as error:  # figures of the job that no machine can have together
        return SheetSpin("", (str(error),), "")


@lru_cache(maxsize=12)
def _spun(question: WhatIf, form: Form) -> SheetSpin:
    from counterpoise.report.figures.dynamics import paper_figure, svg, twin_figure

    sound, faulty = simulated(question)
    studies = {one.words: one.study for one in (sound, faulty)}
    with _one_at_a_time:
        drawn = {"wide": paper_figure, "tall": twin_figure}[form](studies) if form else None
        picture = svg(drawn, letters="path") if drawn else b""
    title = f"In a spin to {sound.study.summary.top_rpm:.0f} rpm: sound, and with {faulty.words}"
    held = (
        "with the figures of this machine"
        if question.values
        else "as machines of its kind usually are"
    )
    words = [comparison(sound.study.summary, faulty.study.summary)]
    if sound.heaviest and faulty.heaviest:
        words.append(heaviest_comparison(sound.heaviest, faulty.heaviest, faulty.words))
    note = (
        f"Reckoned, not measured, {held}, {question.unbalance_kg:g} kg out of balance. "
        "How large the fault is, is an estimate."
    )
    return SheetSpin(title, (*words, note), picture.decode())
