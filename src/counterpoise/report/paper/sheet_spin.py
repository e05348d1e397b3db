"""What a job's machine does in a spin: sound beside what was found, or is likelier than not."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from threading import Lock
from typing import Literal

from counterpoise.dynamics.answers.changes import changes, heaviest_change
from counterpoise.dynamics.answers.what_if import WhatIf
from counterpoise.dynamics.effects.table import showing_load
from counterpoise.dynamics.machines.families import build
from counterpoise.errors import InputError
from counterpoise.report.languages import tongue
from counterpoise.report.paper.sheet import Sheet, SheetSpin
from counterpoise.report.views.job import JobView
from counterpoise.report.views.machine_figures import own_machine
from counterpoise.report.views.twin import simulated
from counterpoise.report.views.twin_question import can_have, read_question, suspected_faults
from counterpoise.workshop.jobs.in_motion import no_model
from counterpoise.workshop.jobs.machine_features import known_features

# matplotlib's drawing settings are shared between threads
_one_at_a_time = Lock()
Form = Literal["wide", "tall", ""]
# Below even odds a suspicion is no state that was found, and a drawing of it would say too much.
_LIKELY_ENOUGH = 0.5


def with_spin(sheet: Sheet, view: JobView, *, drawn: bool = True) -> Sheet:
    """The sheet with the machine in motion, or None; ``drawn``: with its figure."""
    return replace(sheet, spin=spin_of(view, form="wide" if drawn else ""))


def fault_of(view: JobView) -> str:
    """The state to set beside the sound machine, KEY[:SEVERITY[:PART]]; empty without one.

    What was found in a closed job, else what is likelier than not; passed over where a spin shows
    nothing of it that holds for machines of the kind.
    """
    kind = view.family.id
    # counted on this machine, else as its kind usually has
    counted = own_machine(view.job, view.family).held.get("dampers")
    dampers = int(counted) if counted else len(build(kind).dampers)
    return next((state for state in _states(view) if showing_load(kind, state, dampers)), "")


def _states(view: JobView) -> list[str]:
    """States of the model: of the faults that were found, or of suspects likelier than not."""
    closed = view.job.closed
    if closed is None:
        chance = {suspect.title: suspect.probability for suspect in view.assessment.suspects}
        return [
            state
            for state, titles in suspected_faults(view, view.family.id).items()
            if sum(chance[title] for title in titles) >= _LIKELY_ENOUGH
        ]
    sound = build(view.family.id)
    # a closing names the grade too, and so the state
    found = [(view.family.faults.get(key.partition(":")[0]), key) for key in closed.faults]
    states = [entry.twin_of(key) for entry, key in found if entry]
    return [state for state in states if state and can_have(sound, state)]


def spin_of(view: JobView, *, form: Form = "wide") -> SheetSpin | None:
    """What the machine does in a spin; None without a fault to show, the reason without a model.

    ``form`` of its figure: ``wide`` for paper, ``tall`` for a phone, empty for none.
    """
    why = no_model(view.family, known_features(view.family, view.job))
    if why:
        return SheetSpin("In motion", (f"{why}.",), "")
    # no empty box on the paper where the model has nothing to say
    fault = fault_of(view)
    if not fault:
        return None
    try:
        question = read_question(view.family.id, {}, (fault,), own_machine(view.job, view.family))
        return _simulated(question, form, tongue.reader())
    except InputError as error:
        # figures of the job that no machine can have together: said in place of the drawing
        return SheetSpin("", (str(error),), "")


# the language is part of what is asked: letters stand in the figure
@lru_cache(maxsize=12)
def _simulated(question: WhatIf, form: Form, _reader: str) -> SheetSpin:
    # plotting takes a moment to load; the sentences alone need none of it
    from counterpoise.report.figures.dynamics import paper_figure, svg, twin_figure

    sound, faulty = simulated(question)
    studies = {case.words: case.study for case in (sound, faulty)}
    with _one_at_a_time:
        drawn = {"wide": paper_figure, "tall": twin_figure}[form](studies) if form else None
        # drawn letters: the typesetter has other fonts than the page
        picture = svg(drawn, letters="path") if drawn else b""
    top_rpm = sound.study.summary.top_rpm
    title = f"Spin simulation to {top_rpm:.0f} rpm: healthy, and with {faulty.words}"
    figures = (
        "with the figures of this machine"
        if question.values
        else "as machines of its kind usually are"
    )
    sentences = [changes(faulty.key, sound.study, faulty.study)]
    if sound.heaviest and faulty.heaviest:
        bears = heaviest_change(
            faulty.key, sound.study.machine, sound.heaviest, faulty.heaviest, faulty.words
        )
        sentences += [bears] if bears else []
    # a figure beside a machine is soon taken for that machine's own
    note = (
        f"Calculated, not measured, {figures}, {question.unbalance_kg:g} kg out of balance: what"
        " shows this fault, and not to be tried. How large the fault is, is an estimate."
    )
    return SheetSpin(title, (*sentences, note), picture.decode())
