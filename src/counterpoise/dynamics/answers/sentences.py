"""What a spin does to a machine in plain words: the same on page, terminal and paper."""

from counterpoise.dynamics.answers.summary import MOST_KG, HeaviestItem, SpinSummary

# Changes below this are not worth a word: mm that a foot walks.
NOTICED_MM = 1.0


def resonance_words(a: SpinSummary) -> str:
    """The speeds in rpm at which something swings of its own, or that nothing does."""
    if not a.resonances:
        return "Nothing swings of its own at any speed it reaches."
    return (
        "Swings of its own at "
        + ", ".join(f"{r.rpm:.0f} rpm ({r.words})" for r in a.resonances)
        + "."
    )


def travel_words(a: SpinSummary) -> str:
    """How far the tub moves in mm, against the room it has."""
    # a tub that rests on its stop strikes before anything turns
    if a.strikes_rpm is not None:
        when = "at rest already" if a.strikes_rpm < 1.0 else f"from {a.strikes_rpm:.0f} rpm"
        return (
            f"The tub strikes the cabinet {when}; it moves up to {a.travel_mm:.0f} mm, "
            f"and has {a.clearance_mm:.0f} mm."
        )
    worst = f"{a.travel_mm:.1f} mm, at {a.worst_travel_rpm:.0f} rpm"
    return f"The tub moves at most {worst}; it has {a.clearance_mm:.0f} mm."


def feet_words(a: SpinSummary) -> str:
    """When the feet lose their hold (rpm), and how far the machine walks (mm)."""
    # would slide: the steady response holds the others fast, the climb tells whether it walked
    parts = []
    if a.lift:
        parts.append(f"the {a.lift.foot} foot lifts from {a.lift.rpm:.0f} rpm")
    if a.slip:
        parts.append(f"the {a.slip.foot} foot would slide from {a.slip.rpm:.0f} rpm")
    walked = (
        f" It walks {a.walked_mm:.0f} mm in one climb to top speed."
        if a.walked_mm >= NOTICED_MM
        else ""
    )
    if not parts:
        return f"All four feet hold up to {a.top_rpm:.0f} rpm.{walked}"
    text = " and ".join(parts)
    return text[0].upper() + text[1:] + "." + walked


def force_words(a: SpinSummary) -> str:
    """What the floor takes in N and how the top panel shakes in m/s2."""
    return (
        f"The floor takes up to {a.floor_force_n:.0f} N beyond the weight; "
        f"the top panel shakes with {a.panel_top_m_s2:.1f} m/s2 rms at {a.top_rpm:.0f} rpm"
        f", at most {a.panel_worst_m_s2:.1f} at {a.panel_worst_rpm:.0f} rpm."
    )


def summary_sentences(a: SpinSummary) -> list[str]:
    """One machine in four sentences; a machine that leaves the model says so first."""
    lead = (
        []
        if a.complete
        else ["It tips over or breaks loose before the top speed: the figures end there."]
    )
    return [*lead, resonance_words(a), travel_words(a), feet_words(a), force_words(a)]


def limit_words(kg: float | None, what: str) -> str:
    """Up to how many kg a machine does not do ``what``; None: with nothing that is tried."""
    if kg is None:
        return f"it {what} with nothing up to {MOST_KG:g} kg"
    return f"up to {kg:.2f} kg before it {what}"


def heaviest_limits(h: HeaviestItem) -> str:
    """Both limits of one machine in kg: before it strikes, before it walks."""
    limits = (h.before_striking_kg, "strikes"), (h.before_walking_kg, "walks")
    return "; ".join(limit_words(kg, what) for kg, what in limits)


def heaviest_words(h: HeaviestItem) -> str:
    """How heavy a single thing may be, in kg."""
    return f"One single heavy thing: {heaviest_limits(h)}."
