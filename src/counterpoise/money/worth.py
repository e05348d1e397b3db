"""What a working machine is worth to its owner, and the most a repair may cost, rule by rule."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.errors import InputError
from counterpoise.money.amount import show_about
from counterpoise.money.life import Weibull

# Wang et al. 2013, Netherlands 2005, as in the input file of Krych and Pettersen, J. Industrial
# Ecology 2024.
WASHER_LIFE = Weibull(2.2, 13.9)


_LEAST_SERVICE = 1 / 365.25  # years: a machine past its law still runs today


@dataclass(frozen=True, slots=True)
class Replacement:
    """A comparable new machine, delivered and connected; money in minor units."""

    new_minor: int
    life: Weibull = WASHER_LIFE
    rate_percent: float = 3.0

    def yearly_minor(self) -> float:
        """Equivalent annual cost of the new machine over its discounted expected life."""
        return self.new_minor / self.life.service_years(0.0, self.rate_percent)

    def worth_minor(self, age_years: float, renewed: float = 0.0) -> float:
        """Worth, in minor units, of a working machine: years left at a new one's yearly cost.

        ``renewed`` (0..1) is how far the repair sets the clock back: 0 leaves the age as it is, 1
        makes it new.
        """
        if not 0.0 <= renewed <= 1.0:
            raise InputError(
                f"renewed by {renewed}", field="renewed", remedy="Give a share from 0 to 1"
            )
        # a repair that renews what wears most makes the machine younger than its plate says
        age = age_years * (1.0 - renewed)
        return self.yearly_minor() * self.life.service_years(age, self.rate_percent)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule for the largest sensible price of a repair, what it says, and what it looks at."""

    id: str
    title: str
    limit_minor: int
    why: str


def break_even_minor(replacement: Replacement, age_years: float, works: float = 1.0) -> int:
    """Find the repair price at which repairing and buying new are equally good.

    ``works``: chance that the repair holds; where it does not, the owner has paid and buys the new
    machine after all.
    """
    if not 0.0 <= works <= 1.0:
        raise InputError(f"a chance of {works}", field="works", remedy="Give a chance from 0 to 1")
    # a repair that does not hold has bought nothing
    return round(works * replacement.worth_minor(age_years))


def rules(
    replacement: Replacement, age_years: float, used_minor: int | None = None, works: float = 1.0
) -> tuple[Rule, ...]:
    """Set the rules beside each other; the first, the years left, is the one used here.

    ``used_minor``: what a used machine of that age costs, where it is known.
    """
    years = replacement.life.mean_residual(age_years)
    ours = Rule(
        "years_left",
        "Years left",
        break_even_minor(replacement, age_years, works),
        f"A machine of {age_years:g} years has about {years:.1f} years left; each is worth "
        "what a year of a "
        f"new machine costs, times the chance of {works:.0%} that the repair holds.",
    )
    half = Rule(
        "half",
        # the rule most people know; shown beside ours so that the difference can be talked about
        "Half of a new one",
        round(0.5 * replacement.new_minor),
        "A convention. It knows neither the age of the machine nor the chance that the repair "
        "holds, so it is too "
        "strict for a young machine and too generous for an old one.",
    )
    # no price known: nothing is made up for it
    if used_minor is None:
        return ours, half
    used = Rule(
        "used_price",
        "What a used one costs",
        used_minor,
        "The strictest: a used machine of that age can be had for this. It leaves out the "
        "search, the carrying, and "
        "that nobody knows what is wrong with the other one.",
    )
    return ours, half, used


@dataclass(frozen=True, slots=True)
class RepairOrNew:
    """A repair at a price against a new machine: years left (mean and 80 % range), cost a year.

    Repairing pays where ``yearly_repaired_minor`` is below ``yearly_new_minor``, which is where the
    price is below the limit of the first rule. ``sentences`` say so.
    """

    years_left: float
    years_low: float
    years_high: float
    yearly_new_minor: int
    yearly_repaired_minor: int
    rules: tuple[Rule, ...]
    pays: bool
    sentences: tuple[str, ...]


def repair_or_new(
    replacement: Replacement,
    age_years: float,
    price_minor: int,
    *,
    works: float = 1.0,
    used_minor: int | None = None,
    currency: str = "EUR",
) -> RepairOrNew:
    """Weigh a repair at ``price_minor`` against a new machine; ``works`` > 0: its success."""
    # without any chance to hold, the cost of a year is infinite
    if price_minor < 0 or works <= 0.0:
        raise InputError(
            "a repair needs a price of 0 or more and some chance to hold", field="price_minor"
        )
    life, by_rule = replacement.life, rules(replacement, age_years, used_minor, works)
    left, low, high = (
        life.mean_residual(age_years),
        life.quantile(0.1, age_years),
        life.quantile(0.9, age_years),
    )
    # a new machine's cost a year over its whole expected life
    new = replacement.yearly_minor()
    # years are only served where the repair holds, hence the division by its chance
    service = max(life.service_years(age_years, replacement.rate_percent), _LEAST_SERVICE)
    repaired = price_minor / (works * service)
    # cost by the year: the two machines do not last equally long
    pays = repaired < new
    limit = show_about(by_rule[0].limit_minor, currency)
    sentences = (
        (
            f"At {age_years:g} years a machine has {left:.1f} left on average; 8 in 10 have "
            f"{low:.1f} to {high:.1f}."
        ),
        (
            f"Repaired it costs {show_about(repaired, currency)} a year, a new one "
            f"{show_about(new, currency)} a year."
        ),
        f"The repair pays: it could cost up to {limit}."
        if pays
        else f"The repair does not pay: at {limit} it would.",
    )
    return RepairOrNew(left, low, high, round(new), round(repaired), by_rule, pays, sentences)
