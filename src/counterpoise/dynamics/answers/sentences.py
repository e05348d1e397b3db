"""What a spin does to a machine in plain words: the same on page, terminal and paper."""

from counterpoise.dynamics.answers.summary import HeaviestItem, SpinSummary

# Changes below these are not worth a word: mm of tub or feet.
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


def ratio_words(name: str, sound: float, faulty: float, hardly: float) -> str:
    """One figure beside the sound one; no ratio where the sound one is hardly anything."""
    # a ratio to next to nothing is large and means nothing
    if sound <= hardly:
        return f"{name} {faulty:.1f} (sound: {sound:.1f})"
    return f"{name} {faulty:.1f} (sound {sound:.1f}: {faulty / sound:.1f} times)"


def new_events(sound: SpinSummary, faulty: SpinSummary) -> list[str]:
    """What happens with the fault that did not happen before; empty where nothing is new."""
    out = []
    low, right = (
        faulty.hangs_low_mm - sound.hangs_low_mm,
        faulty.hangs_right_mm - sound.hangs_right_mm,
    )
    if abs(low) >= NOTICED_MM or abs(right) >= NOTICED_MM:
        side = (
            f" and {abs(right):.0f} mm to the {'right' if right > 0 else 'left'}"
            if abs(right) >= NOTICED_MM
            else ""
        )
        out.append(f"the tub hangs {abs(low):.0f} mm {'lower' if low >= 0 else 'higher'}{side}")
    if faulty.strikes and not sound.strikes:
        out.append("the tub strikes")
    if faulty.lift and not sound.lift:
        out.append(f"the {faulty.lift.foot} foot lifts from {faulty.lift.rpm:.0f} rpm")
    if faulty.walked_mm >= NOTICED_MM > sound.walked_mm:
        out.append(f"it walks {faulty.walked_mm:.0f} mm")
    # Twice a turn is how a support that is weak in one direction shows; every machine has a
    # little of it, so it counts only from twice the sound one's (estimate).
    if faulty.panel_twice_m_s2 > 2.0 * sound.panel_twice_m_s2 + 0.05:
        out.append(f"it shakes twice a turn, up to {faulty.panel_twice_m_s2:.2f} m/s2")
    return out


def comparison(sound: SpinSummary, faulty: SpinSummary) -> str:
    """What the fault changes against the sound machine, in one or two sentences."""
    # with each figure the value below which a ratio says nothing: mm, m/s2, N (estimates)
    changes = [
        ratio_words("Tub travel in mm", sound.travel_mm, faulty.travel_mm, 0.1),
        ratio_words(
            "shake of the top panel at full speed in m/s2",
            sound.panel_top_m_s2,
            faulty.panel_top_m_s2,
            0.02,
        ),
        ratio_words("force on the floor in N", sound.floor_force_n, faulty.floor_force_n, 5.0),
    ]
    events = new_events(sound, faulty)
    return "; ".join(changes) + "." + (f" New: {'; '.join(events)}." if events else "")


def heaviest_limits(h: HeaviestItem) -> str:
    """Both limits of one machine in kg: before it strikes, before it walks."""

    def limit(kg: float | None, what: str) -> str:
        return (
            f"it {what} with nothing up to 5 kg"
            if kg is None
            else f"up to {kg:.2f} kg before it {what}"
        )

    return f"{limit(h.before_striking_kg, 'strikes')}; {limit(h.before_walking_kg, 'walks')}"


def heaviest_words(h: HeaviestItem) -> str:
    """How heavy a single thing may be, in kg."""
    return f"One single heavy thing: {heaviest_limits(h)}."


def heaviest_comparison(sound: HeaviestItem, faulty: HeaviestItem, fault: str) -> str:
    """How heavy a single thing may be in kg, sound and with a fault."""
    limits = heaviest_limits(sound), heaviest_limits(faulty)
    return f"One single heavy thing. Sound: {limits[0]}. With {fault}: {limits[1]}."
