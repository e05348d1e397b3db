"""The quote for a customer: what was found and costed, handed to the money room to be put into words."""

from __future__ import annotations

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money import CustomerMachine, OptionResult, Repairing, compare, customer_case
from counterpoise.money.estimate import diagnosis_alone
from counterpoise.money.quote import Guarantee, Quote, QuoteCase, Suspicion, quote
from counterpoise.money.worth import rules
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.guarantee import cover_of, slips
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.diagnosis.family_model import works_under
from counterpoise.workshop.diagnosis.problem import Prices
from counterpoise.workshop.diagnosis.replay import Situation, replay
from counterpoise.workshop.jobs.entries import Decision, Job
from counterpoise.workshop.jobs.settings import Settings

ACCEPTED = "repair_hand_back"
DECLINED = ("hand_back", "replace")
_LONGER_MONTHS = (12,)
_MOST_SUSPICIONS = 4


def quote_of(
    family: Family,
    settings: Settings,
    job: Job,
    found: Assessment,
    costing: Costing,
    situation: Situation | None = None,
) -> Quote:
    """Put the costed work into words for the customer. Raises InputError where there is nothing to quote.

    ``situation``: the job replayed already.
    """
    situation = situation or replay(family, settings, job)
    if situation.intake.owner != "customer":
        raise InputError(
            "a quote is for a customer; this machine is the workshop's own",
            remedy="Look at the estimate instead",
        )
    if situation.proven or job.closed:
        raise InputError(
            "nothing is left to quote: the work is done",
            remedy="Look at the estimate of what was done",
        )
    prices = Prices.of(situation, settings)
    return quote(
        QuoteCase(
            suspicions=tuple(
                Suspicion(_small(s.title), _sentence(s.means), s.probability)
                for s in found.suspects[:_MOST_SUSPICIONS]
            ),
            work=tuple(entry.title for entry in costing.repairs),
            estimate=costing.estimate,
            works=costing.works,
            fee_minor=fee_minor(costing),
            options=_ways(situation, prices, costing, job.number),
            rules=rules(prices.replacement, situation.age_years, works=costing.works),
            guarantee=_guarantee(family, settings, costing),
            free=costing.free,
        )
    )


def fee_minor(costing: Costing) -> int:
    """What the customer owes, tax and all, where the fault was found and nothing is repaired."""
    if costing.free:
        return 0
    return diagnosis_alone(costing.order, costing.charges).payable_minor


def answered(costing: Costing, option: str, agreed_by: str) -> Decision:
    """The customer's answer as evidence. ``option``: :data:`ACCEPTED`, or one of :data:`DECLINED`."""
    if option not in (ACCEPTED, *DECLINED):
        raise InputError(
            f"answer: {option[:60]!r} is none",
            field="answer",
            remedy="Say yes, hand back, or replace",
        )
    if not agreed_by.strip():
        raise InputError(
            "agreed_by: is empty", field="agreed_by", remedy="Put down who gave the answer"
        )
    taken = option == ACCEPTED
    total = costing.estimate
    return Decision(
        option,
        total.payable_minor if taken else fee_minor(costing),
        quoted_minor=total.payable_minor,
        ceiling_minor=total.ceiling_minor if taken else None,
        repairs=tuple(entry.id for entry in costing.repairs),
        agreed_by=agreed_by.strip(),
        used_parts=taken and "used" in costing.order.quality.values(),
    )


def _guarantee(family: Family, settings: Settings, costing: Costing) -> Guarantee:
    """The repair itself is guaranteed: it comes back where the proof spin missed a fault that is left."""
    cover = cover_of(settings, slips(costing.works, family.proof_misses), costing.own.net_minor)
    return Guarantee(cover, settings.warranty_months, _LONGER_MONTHS)


def _ways(
    situation: Situation, prices: Prices, costing: Costing, seed: int
) -> tuple[OptionResult, ...]:
    """The customer's ways out against this very work at this price, not against all that could still be tried."""
    works = works_under(
        situation.base, [entry for entry in costing.repairs if entry.id not in costing.done]
    )
    likely = situation.probabilities > 0
    belief, works = situation.probabilities[likely], works[likely]
    price = float(costing.estimate.payable_minor)
    flat = np.ones_like(belief)
    net = sum(line.net_minor for line in costing.estimate.lines if line.kind == "part")
    case = customer_case(
        CustomerMachine(
            belief=belief / belief.sum(),
            repairing=Repairing(costing.estimate.minutes * flat, net * flat, works, 0.0 * flat),
            price_minor=price * flat,
            worth_minor=prices.working,
            owed_minor=float(fee_minor(costing)),
            currency=prices.settings.currency,
        )
    )
    return compare(case, np.random.default_rng(seed))


def _small(title: str) -> str:
    """A title inside a sentence."""
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title


def _sentence(text: str) -> str:
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."
