"""What a field of an entry can be chosen from, where a few words are all there is."""

from __future__ import annotations

from typing import Annotated, Literal

from counterpoise.workshop.jobs.fields import Choice

# How a machine that must not be used leaves unrepaired all the same (common practice; local codes
# and licensed people come first). It is its owner's: nobody puts it out of use against their will,
# and then they sign that they were warned.
SAFEGUARDS = {
    "made_safe": "what can hurt was made safe, though it is not repaired",
    "out_of_use": "put out of use: it cannot be switched on, and a label says why",
    "written_warning": "its owner has signed in writing that it must not be used",
}
Safeguard = Annotated[
    Literal["", "made_safe", "out_of_use", "written_warning"],
    Choice("no safeguard", f"One of {', '.join(SAFEGUARDS)}"),
]
Owner = Annotated[
    Literal["customer", "workshop"], Choice("no owner", 'Give "customer" or "workshop"')
]
HowByHand = Literal["told", "plate", "counted", "measured"]
How = Annotated[
    Literal[HowByHand, "fitted"],
    Choice("no way to know it", "One of told, plate, counted, measured, fitted"),
]
# the ending of a job that should never have been: in no list, no book and no statistics
MISTAKE = "opened_by_mistake"
