"""The answers in plain words: the same on page, terminal and paper."""

from counterpoise.dynamics.answers.summary import Answers, Heaviest


def resonance_words(a: Answers) -> str:
    """Name the speeds at which something swings."""
    if not a.resonances:
        return "Nothing swings of its own at any speed it reaches."
    return (
        "Swings of its own at "
        + ", ".join(f"{r.rpm:.0f} rpm ({r.words})" for r in a.resonances)
        + "."
    )


def travel_words(a: Answers) -> str:
    """How far the tub moves, against the room it has."""
    if a.strikes_rpm is not None:
        when = "at rest already" if a.strikes_rpm < 1.0 else f"from {a.strikes_rpm:.0f} rpm"
        return f"The tub strikes the cabinet {when}; it moves up to {a.travel_mm:.0f} mm, and has {a.clearance_mm:.0f} mm."
    worst = f"{a.travel_mm:.1f} mm, at {a.worst_travel_rpm:.0f} rpm"
    return f"The tub moves at most {worst}; it has {a.clearance_mm:.0f} mm."


def feet_words(a: Answers) -> str:
    """When the feet lose their hold."""
    parts = []
    if a.lift:
        parts.append(f"the {a.lift.foot} foot lifts from {a.lift.rpm:.0f} rpm")
    if a.slip:
        parts.append(f"the {a.slip.foot} foot would slide from {a.slip.rpm:.0f} rpm")
    walked = (
        f" It walks {a.walked_mm:.0f} mm in one climb to top speed." if a.walked_mm >= 1.0 else ""
    )
    if not parts:
        return f"All four feet hold up to {a.top_rpm:.0f} rpm.{walked}"
    text = " and ".join(parts)
    return text[0].upper() + text[1:] + "." + walked


def force_words(a: Answers) -> str:
    """What the floor and the top panel feel."""
    return (
        f"The floor takes up to {a.floor_force_n:.0f} N beyond the weight; "
        f"the top panel shakes with {a.panel_top_m_s2:.1f} m/s2 rms at {a.top_rpm:.0f} rpm"
        f", at most {a.panel_worst_m_s2:.1f} at {a.panel_worst_rpm:.0f} rpm."
    )


def tell(a: Answers) -> list[str]:
    """One machine in four sentences; a machine that leaves the model says so first."""
    lead = (
        []
        if a.complete
        else ["It tips over or breaks loose before the top speed: the figures end there."]
    )
    return [*lead, resonance_words(a), travel_words(a), feet_words(a), force_words(a)]


def ratio_words(name: str, sound: float, faulty: float, hardly: float) -> str:
    """One figure beside the sound one; where that is hardly anything, no ratio."""
    if sound <= hardly:
        return f"{name} {faulty:.1f} (sound: {sound:.1f})"
    return f"{name} {faulty:.1f} (sound {sound:.1f}: {faulty / sound:.1f} times)"


def changed_events(sound: Answers, faulty: Answers) -> list[str]:
    """What happens that did not happen before."""
    out = []
    low, right = (
        faulty.hangs_low_mm - sound.hangs_low_mm,
        faulty.hangs_right_mm - sound.hangs_right_mm,
    )
    if abs(low) >= 1.0 or abs(right) >= 1.0:
        side = (
            f" and {abs(right):.0f} mm to the {'right' if right > 0 else 'left'}"
            if abs(right) >= 1.0
            else ""
        )
        out.append(f"the tub hangs {abs(low):.0f} mm {'lower' if low >= 0 else 'higher'}{side}")
    if faulty.strikes and not sound.strikes:
        out.append("the tub strikes")
    if faulty.lift and not sound.lift:
        out.append(f"the {faulty.lift.foot} foot lifts from {faulty.lift.rpm:.0f} rpm")
    if faulty.walked_mm >= 1.0 > sound.walked_mm:
        out.append(f"it walks {faulty.walked_mm:.0f} mm")
    if faulty.panel_twice_m_s2 > 2.0 * sound.panel_twice_m_s2 + 0.05:
        out.append(f"it shakes twice a turn, up to {faulty.panel_twice_m_s2:.2f} m/s2")
    return out


def compare(sound: Answers, faulty: Answers) -> str:
    """What the fault changes, in one or two sentences."""
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
    events = changed_events(sound, faulty)
    return "; ".join(changes) + "." + (f" New: {'; '.join(events)}." if events else "")


def upto(h: Heaviest) -> str:
    """Both limits of one machine."""

    def one(kg: float | None, what: str) -> str:
        return (
            f"it {what} with nothing up to 5 kg"
            if kg is None
            else f"up to {kg:.2f} kg before it {what}"
        )

    return f"{one(h.before_striking_kg, 'strikes')}; {one(h.before_walking_kg, 'walks')}"


def heaviest_words(h: Heaviest) -> str:
    """How heavy a single thing may be."""
    return f"One single heavy thing: {upto(h)}."


def heaviest_beside(sound: Heaviest, faulty: Heaviest, fault: str) -> str:
    """How heavy a single thing may be, sound and with a fault."""
    return f"One single heavy thing. Sound: {upto(sound)}. With {fault}: {upto(faulty)}."
