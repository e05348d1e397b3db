"""Ways a job can go on, by its number."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchmarks.behaviour.constants import TYPED
from benchmarks.behaviour.player import Player


def _quote(play: Player) -> dict[str, Any]:
    told = play.desk.get(play.name("quote"), f"/api/jobs/{play.number}/quote").told or {}
    return told if told.get("repairs") else {}


def _said(play: Player, answer: str) -> list[str]:
    """The customer's answer to the quote; returns the repairs it was for."""
    paper = _quote(play)
    if not paper:
        return []
    body = {
        "answer": answer, "agreed_by": "A. Customer", "price_minor": paper["price_minor"],
        "repairs": paper["repairs"], "by": "A", "expected_last": paper["last"],
    }  # fmt: skip
    return list(paper["repairs"]) if play.send("quote", body).fine else []


def _work(play: Player) -> list[str]:
    """The repairs that the estimate reckons with; where there are none, one that fits."""
    told = play.desk.get(play.name("estimate"), f"/api/jobs/{play.number}/estimate").told or {}
    repairs = [one["id"] for one in told.get("work", []) if not one["done"]]
    others = [one["id"] for one in told.get("others", []) if not one["done"]]
    return repairs or play.rng.sample(others, min(1, len(others)))


def _chance_fault(play: Player) -> list[str]:
    told = (play.look().get("assessment") or {}).get("suspects") or []
    return [told[0]["fault"]] if told else []


def quote_yes_then_work(play: Player) -> None:
    """The customer agrees, the work is done, the proof fails, and work goes on."""
    for repair in _said(play, "repair_hand_back"):
        play.put("repairs", repair=repair, minutes=20.0)
    play.put("proofs", passed=False, minutes=11.0, note="Still walks.")
    play.step()


def quote_yes_proven_closed(play: Player) -> None:
    """The customer agrees, the work is done, it runs true, the job is closed."""
    faults = _chance_fault(play)
    for repair in _said(play, "repair_hand_back") or _work(play):
        play.put("repairs", repair=repair)
    play.put("proofs", passed=True, minutes=9.0)
    play.put("decision", option="repair_hand_back", agreed_minor=14900, why="It runs true.")
    play.put("close", ending="repair_hand_back", faults=faults, received_minor=14900)


def came_back(play: Player) -> None:
    """Closed as mended, and back again."""
    faults = _chance_fault(play)
    play.put("proofs", passed=True)
    ending = {"ending": play.mended, "faults": faults, "received_minor": 9000}
    play.put("close", **ending, note="Fetched.")
    last = play.last()
    body = {"entry": last, "why": "Shakes again.", "comeback": True, "by": "A"}
    play.send("retractions", body)
    play.step()
    play.step()


def taken_back(play: Player) -> None:
    """A finding is taken back, then a note with a photo."""
    play.step()
    play.put("retractions", entry=play.last(), why="Mistyped.")
    photo = f"{play.folder}/work-photo"
    raw = {"raw": f"picture:{play.number}", "type": "image/png"}
    play.desk.ask(photo, method="POST", path="/api/photos", **raw)
    note = {"text": "Seen from below.", "photos": [f"<<{photo}|photo>>"], "by": "A"}
    play.send("notes", note)
    play.desk.get(f"{play.folder}/photo", f"/jobs/{play.number}/photos/<<{photo}|photo>>")


def not_reached(play: Player) -> None:
    """Cannot reach it, could not tell, then two measurements by hand."""
    play.one_check(outcome="cannot_reach", note="Built in.")
    play.one_check(outcome="could_not_tell")
    for kind in play.rng.sample(("level", "dampers", "springs", "play", "bounce"), 2):
        path = f"/api/jobs/{play.number}/measure/{kind}"
        told = play.desk.get(play.name(f"measure-{kind}"), path).told or {}
        body = {"typed": TYPED[kind], "checks": told.get("checks", [])[:2], "by": "A"}
        play.send(f"measure/{kind}/findings", body)


def given_up(play: Player) -> None:
    """A customer says no, or the workshop's own machine is taken apart."""
    if play.owner == "customer":
        _said(play, play.rng.choice(("hand_back", "replace")))
        play.put("close", ending="hand_back", received_minor=3600)
        return
    told = play.desk.get(play.name("parts"), f"/api/jobs/{play.number}/parts").told or {}
    kept = [piece for one in told.get("parts", []) if one["keep"] for piece in one["pieces"]]
    play.put("decision", option="part_out", why="Worth more apart.")
    pieces = dict.fromkeys(kept[:3], 1)
    play.send("parts", {"pieces": pieces, "place": f"B{play.number}", "by": "A"})
    play.put("close", ending="part_out", received_minor=4000)


def parts_on_order(play: Player) -> None:
    """Decided, parts reserved, some awaited; then the repair takes them from the shelf."""
    repairs = _work(play)
    play.put("decision", option=play.mended, agreed_minor=12000, why="Worth it.")
    play.send("agreement", {"used_parts": play.rng.random() < 0.5, "by": "B"})
    play.send("shelf", {"what": "reserve", "repairs": repairs, "by": "A"})
    note = {"text": "Ordered the rest.", "parts_due": f"<<day{play.number % 9:+d}>>", "by": "A"}
    play.send("notes", note)
    told = play.desk.get(play.name("estimate"), f"/api/jobs/{play.number}/estimate").told or {}
    taken = [
        {"lot": way["lot"], "count": part["count"]}
        for part in told.get("parts", [])
        for way in part["ways"]
        if way["chosen"] and way["lot"]
    ]
    if play.number % 4 and repairs:
        play.send("repairs", {"repair": repairs[0], "minutes": 25.0, "taken": taken, "by": "A"})
    if play.number % 3 == 0:
        play.send("shelf", {"what": "release", "by": "A"})


def spin_recorded(play: Player) -> None:
    """A recording of a spin is put down, and figures of the machine; then another as proof."""
    figures = {"values": {"spin_rpm": 1200, "machine_kg": 62}, "how": "plate", "by": "A"}
    play.send("machine", figures)
    for role, turn in (("before", 0), ("after", 1))[: 1 + play.number % 2]:
        kept = f"{play.folder}/work-recording-{role}"
        path = f"/api/jobs/{play.number}/recording?name=spin.csv&top_rpm=1200"
        raw = {"raw": f"spin:{play.number + 100 * turn}", "type": "text/csv"}
        if not play.desk.ask(kept, method="POST", path=path, **raw).fine:
            continue
        at = f"recording/<<{kept}|recording>>"
        play.desk.both(play.folder, f"/jobs/{play.number}/{at}?role={role}")
        figure = f"/jobs/{play.number}/{at}/figure.svg?role={role}"
        play.desk.get(f"{play.folder}/{role}.svg", figure)
        play.send(at, {"role": role, "by": "A"})
        if role == "before":
            play.desk.both(play.folder, f"/jobs/{play.number}/{at}/fit?load=2")
            play.desk.get(f"{play.folder}/fit.svg", f"/jobs/{play.number}/{at}/fit.svg?load=2")
            play.send(f"{at}/fit", {"load_kg": 2.0, "by": "A"})


def failed_then_passed(play: Player) -> None:
    """Repaired by another step than the advised one; the proof fails, then passes; decided."""
    for repair in _work(play)[-1:]:
        play.put("repairs", repair=repair, minutes=15.0, note="On a hunch.")
    play.put("proofs", passed=False)
    play.step()
    play.put("proofs", passed=True, minutes=10.0)
    play.put("decision", option=play.mended, agreed_minor=8000)
    if play.number % 2:
        faults = _chance_fault(play)
        play.put("close", ending=play.mended, faults=faults, received_minor=8000)


def left_open(play: Player) -> None:
    """Nothing more is put down."""
    play.look()


WAYS: tuple[Callable[[Player], None], ...] = (
    quote_yes_then_work, left_open, quote_yes_proven_closed, came_back, taken_back, not_reached,
    given_up, parts_on_order, spin_recorded, failed_then_passed,
)  # fmt: skip
QUOTED = (quote_yes_then_work, quote_yes_proven_closed)
