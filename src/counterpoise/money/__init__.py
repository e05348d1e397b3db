"""Estimate, remaining life, the options side by side, the quote: pure figures in, pure figures out.

Money is integer minor units of an ISO 4217 currency at every border; in the middle of a calculation
it is a float or an exact fraction of a minor unit. Nothing here knows a catalog, a job or a store.

Comparing the ways to end a job::

    from counterpoise.money import Option, OptionCase, Unknown, compare

    case = OptionCase(
        belief=np.array([0.7, 0.3]),                       # (H,) adds up to 1
        options=(
            # values are (H,) minor units
            Option("repair_resell", "Repair and resell", values=np.array([9000.0, -4000.0])),
            Option("scrap", "Scrap", values=np.array([-1000.0, -1000.0])),
        ),
        unknowns=(
            Unknown("resale", "the price it sells for", 21000, 3000, {"repair_resell": 1.0}),
        ),
        suspects={"a worn main bearing": np.array([False, True])},      # words -> mask (H,)
    )
    results = compare(case, np.random.default_rng(1))      # OptionResult, best first

``compare`` gives for each option the expected value, the range that holds eight times in ten, the
share of draws in which it is best, and the inputs that would flip the choice (``hinges``, and the
first as a sentence in ``hinges_on``). :mod:`counterpoise.money.option_cases` makes the case from
plain figures (``workshop_case``, ``customer_case``).
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.money.life import Weibull
    from counterpoise.money.option_cases import (
        CustomerMachine,
        OwnMachine,
        Referral,
        Repairing,
        customer_case,
        workshop_case,
    )
    from counterpoise.money.option_model import Option, OptionCase, Risk, Unknown
    from counterpoise.money.options import OptionResult, compare
    from counterpoise.money.sensitivity import Hinge
    from counterpoise.money.worth import (
        RepairOrNew,
        Replacement,
        Rule,
        break_even_minor,
        repair_or_new,
        rules,
    )

__all__ = [
    "CustomerMachine",
    "Hinge",
    "Option",
    "OptionCase",
    "OptionResult",
    "OwnMachine",
    "Referral",
    "RepairOrNew",
    "Repairing",
    "Replacement",
    "Risk",
    "Rule",
    "Unknown",
    "Weibull",
    "break_even_minor",
    "compare",
    "customer_case",
    "repair_or_new",
    "rules",
    "workshop_case",
]

# Numbers are imported with the name that needs them: amounts, orders and the shelf do without numpy
# and scipy, and a list of jobs asks for no more than those.
_HOME = {
    "CustomerMachine": "option_cases",
    "Hinge": "sensitivity",
    "Option": "option_model",
    "OptionCase": "option_model",
    "OptionResult": "options",
    "OwnMachine": "option_cases",
    "Referral": "option_cases",
    "RepairOrNew": "worth",
    "Repairing": "option_cases",
    "Replacement": "worth",
    "Risk": "option_model",
    "Rule": "worth",
    "Unknown": "option_model",
    "Weibull": "life",
    "break_even_minor": "worth",
    "compare": "options",
    "customer_case": "option_cases",
    "repair_or_new": "worth",
    "rules": "worth",
    "workshop_case": "option_cases",
}


def __getattr__(name: str) -> object:
    """A public name from its module. Raises AttributeError as every module does."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
