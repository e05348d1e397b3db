"""The quote for a customer: what was costed, handed to the money room to be put into words."""

from __future__ import annotations

import numpy as np

from counterpoise.errors import InputError
from counterpoise.money import CustomerMachine, OptionResult, Repairing, compare, customer_case
from counterpoise.money.estimate import diagnosis_alone
from counterpoise.money.quote import quote
from counterpoise.money.quote_case import Guarantee, Quote, QuoteCase, Suspicion
from counterpoise.money.worth import rules
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.guarantee import cover_of
from counterpoise.workshop.billing.work import advised_work
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.diagnosis.family_model import works_under
from counterpoise.workshop.diagnosis.hazards import leave_texts, must_not_leave
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.part_sets import set_notes
from counterpoise.workshop.jobs.entries import Decision

ACCEPTED = "repair_hand_back"
DECLINED = ("hand_back", "replace")
# Beside the guarantee within the price, one longer one is offered for money.
_LONGER_MONTHS = (12,)
# A customer reads a page, not a list.
_MOST_SUSPICIONS = 4


def quote_of(case: JobCase, assessment: Assessment, costing: Costing) -> Quote:
    """Put the costed work into words for the customer. Raises InputError: nothing to quote."""
    situation, prices = case.situation, case.prices
    if situation.intake.owner != "customer":
        raise InputError(
            "a quote is for a customer; this machine is the workshop's own",
            remedy="Look at the estimate instead",
        )
    # a quote is a promise for work to come; what is done is billed
    if situation.proven or case.job.closed:
        raise InputError(
            "nothing is left to quote: the work is done",
            remedy="Look at the estimate of what was done",
        )
    step = assessment.next
    return quote(
        QuoteCase(
            suspicions=tuple(
                Suspicion(
                    _inside_sentence(suspect.title),
                    with_full_stop(suspect.means),
                    suspect.probability,
                )
                for suspect in assessment.suspects[:_MOST_SUSPICIONS]
            ),
            work=_work(case, costing),
            estimate=costing.estimate,
            works=costing.works,
            doubts=costing.doubts,
            # owed for finding the fault where the answer is no
            fee_minor=fee_minor(costing),
            # the ways as every page has them; work picked by hand is weighed as it was picked
            options=_ways_out(case, costing)
            if _picked(case, assessment, costing)
            else assessment.options,
            # conventions that people know, beside what this machine is worth to its owner
            rules=rules(prices.replacement, situation.age_years, works=costing.works),
            guarantee=_guarantee(case, costing),
            free=costing.free,
            forbidden=leave_texts(must_not_leave(situation)),
            # what is agreed to or under way needs no more looking
            proof=case.family.proof_title.lower(),
            still_to_do=step.title if step and step.kind == "check" and not costing.done else "",
        )
    )


def _picked(case: JobCase, assessment: Assessment, costing: Costing) -> bool:
    """Whether the work is other than what would be quoted of itself."""
    step = assessment.next
    advised = advised_work(case, step.id if step and step.kind == "repair" else "")
    return {entry.id for entry in costing.repairs} != {entry.id for entry in advised}


def _work(case: JobCase, costing: Costing) -> tuple[str, ...]:
    """The repairs by their titles, those of a set with why the whole, or why one piece alone."""
    notes = set_notes(case.situation)
    return tuple(
        # what was done is no choice any more, and needs no reason
        f"{entry.title}. {notes[entry.id]}"
        if entry.id in notes and entry.id not in costing.done
        else entry.title
        for entry in costing.repairs
    )


def fee_minor(costing: Costing) -> int:
    """Minor units that the customer owes, tax and all, where nothing is repaired.

    0 under the guarantee.
    """
    if costing.free:
        return 0
    return diagnosis_alone(costing.order, costing.charges).payable_minor


def answered(costing: Costing, option: str, agreed_by: str) -> Decision:
    """The customer's answer as evidence. Raises InputError for another, or where nobody gave it.

    ``option``: :data:`ACCEPTED`, or one of :data:`DECLINED`; then the fee is what is agreed.
    """
    if option not in (ACCEPTED, *DECLINED):
        raise InputError(
            f"answer: {option[:60]!r} is none",
            field="answer",
            remedy="Say yes, hand back, or replace",
        )
    # an agreement that nobody gave is none
    if not agreed_by.strip():
        raise InputError("agreed_by: is empty", field="agreed_by", remedy="Say who gave the answer")
    accepted = option == ACCEPTED
    estimate = costing.estimate
    return Decision(
        option,
        estimate.payable_minor if accepted else fee_minor(costing),
        quoted_minor=estimate.payable_minor,
        ceiling_minor=estimate.ceiling_minor if accepted else None,
        repairs=tuple(entry.id for entry in costing.repairs),
        agreed_by=agreed_by.strip(),
        used_parts=accepted and "used" in costing.order.quality.values(),
    )


def _guarantee(case: JobCase, costing: Costing) -> Guarantee:
    """The repair itself is guaranteed: it comes back where the proof spin missed a fault left."""
    # the same errors of the proof as belief and plan reckon with
    returns = case.situation.model.proof.fault_left(costing.works)
    cover = cover_of(case.family, case.settings, returns, costing.own.net_minor)
    return Guarantee(cover, case.settings.warranty_months, _LONGER_MONTHS)


def _ways_out(case: JobCase, costing: Costing) -> tuple[OptionResult, ...]:
    """The customer's ways out against this very work at this price.

    Not against all that could still be tried: a quote is for what stands in it.
    """
    situation = case.situation
    still_to_do = [entry for entry in costing.repairs if entry.id not in costing.done]
    # what is ruled out takes no part in a comparison of what is likely
    likely = situation.joint > 0
    belief = situation.joint[likely]
    works = works_under(situation.model, situation.kinds, still_to_do)[likely]
    # price and minutes are those of the quote, whatever is wrong
    each_set = np.ones_like(belief)
    # net of tax, as the money room wants what a repair takes
    parts_minor = sum(line.net_minor for line in costing.estimate.lines if line.kind == "part")
    option_case = customer_case(
        CustomerMachine(
            belief=belief / belief.sum(),
            repairing=Repairing(
                costing.estimate.minutes * each_set, parts_minor * each_set, works, 0.0 * each_set
            ),
            price_minor=float(costing.estimate.payable_minor) * each_set,
            worth_minor=case.prices.working,
            owed_minor=float(fee_minor(costing)),
            currency=case.settings.currency,
        )
    )
    # seeded by the job, so that a quote says the same each time it is printed
    return compare(option_case, np.random.default_rng(case.job.number))


def _inside_sentence(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins an abbreviation."""
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title


def with_full_stop(text: str) -> str:
    """The text as a sentence of its own, whether or not it ends as one already."""
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."
