"""A spin dryer whose basket may be cracked and whose lead may be bare: faults that forbid."""

from pathlib import Path

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import load_family

PLAIN = Path(__file__).parents[1] / "catalog" / "files" / "spin_dryer.yaml"
FAULTS = """  basket_cracked:
    title: Basket cracked
    means: The basket has a crack at its foot.
    assembly: basket
    prior: 0.06
    complaints: {shakes: 0.8, no_spin: 0.02}
    must_not_run: "A cracked basket can burst at full speed."
    must_not_leave: "The next spin can throw pieces of it."
    source: from memory
  lead_bare:
    title: Lead bare
    means: The lead is chafed to the copper.
    assembly: plate
    prior: 0.02
    complaints: {no_spin: 0.3}
    must_not_run: "Whoever touches it can be killed."
    must_not_leave: "Whoever plugs it in can be killed."
    source: from memory
access:
"""
CHECKS = """  look_basket:
    title: Look at the basket with a torch
    kind: look
    minutes: 2
    cautions: [unplug]
    steps: [Turn the basket by hand and look at its foot all round.]
    question: What do you see?
    outcomes: {whole: "It is whole", crack: "A crack"}
    under: {basket_cracked: {crack: 0.95}}
    otherwise: {crack: 0.005}
    source: from memory
  look_lead:
    title: Look along the lead
    kind: look
    minutes: 1
    cautions: [unplug]
    steps: [Plug out. Look along the lead from plug to grommet.]
    question: What do you see?
    outcomes: {sound: "It is sound", bare: "Bare copper"}
    under: {lead_bare: {bare: 0.95}}
    otherwise: {bare: 0.005}
    source: from memory
repairs:
"""
REPAIRS = """  new_basket:
    title: Put in a new basket
    minutes: 40
    cautions: [unplug]
    cures: {basket_cracked: 0.97}
    steps: [Undo the nut. Change the basket.]
    source: from memory
  new_lead:
    title: Put in a new lead
    minutes: 15
    cautions: [unplug]
    cures: {lead_bare: 0.97}
    steps: [Change the lead. Test earth before use.]
    source: from memory
parts:
"""


def forbidding(folder: Path, **swaps: str) -> Family:
    """The family, written to a file in ``folder`` and read; ``swaps``: text for text."""
    text = PLAIN.read_text()
    for head, added in (("access:\n", FAULTS), ("repairs:\n", CHECKS), ("parts:\n", REPAIRS)):
        assert text.count(f"\n{head}") == 1
        text = text.replace(f"\n{head}", f"\n{added}")
    for old, new in swaps.items():
        text = text.replace(old, new)
    path = folder / "spin_dryer.yaml"
    path.write_text(text)
    return load_family(path)
