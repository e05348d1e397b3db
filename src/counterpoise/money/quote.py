"""The customer's quote in plain words: what is wrong, how sure, the most it costs, what if worse.

Sentences only; the page and the paper set them. The same input gives the same words.
"""

from __future__ import annotations

from counterpoise.errors import InputError
from counterpoise.money.amount import exponent, percent, round_minor, show, show_about, to_step
from counterpoise.money.quote_case import Doubts, Quote, QuoteCase, Suspicion, WayOut

# a suspect less likely than this is not worth a customer's worry (from memory)
_NAMED = 0.05
_REPAIR = "repair_hand_back"


def quote(case: QuoteCase) -> Quote:
    """Put a quote into words.

    Raises InputError without a suspicion, or with chances outside 0 to 1.
    """
    _check(case)
    # stable: of equal chances the first named is told first
    ranked = tuple(sorted(case.suspicions, key=lambda s: -s.chance))
    estimate = case.estimate
    return Quote(
        _first(case),
        _wrong(ranked),
        _sure(ranked[0].chance),
        case.work,
        _cost(case),
        _at_most(case),
        _worse(case),
        _worth(case),
        _alternatives(case),
        _guarantee(case),
        _leaving(case),
        "This is no quote yet." if case.still_to_do else f"This holds for {case.valid_days} days.",
        # what the customer hands over, down to the smallest coin
        estimate.payable_minor,
        estimate.ceiling_minor,
        estimate.currency,
    )


def out_of_ten(chance: float) -> str:
    """Put a chance into words a customer can count on fingers.

    >>> [out_of_ten(p) for p in (0.999, 0.93, 0.5, 0.08, 0.001)]
    ['almost always', '19 times in 20', '5 times in 10', '1 time in 12', 'hardly ever']
    """
    # words at the ends: '10 times in 10' would be a promise
    if chance >= 0.97:
        return "almost always"
    if chance >= 0.925:
        return "19 times in 20"
    if chance >= 0.145:
        # the tiny addend makes 0.25 round up on every machine
        tenths = min(9, round(chance * 10 + 1e-9))
        return f"{tenths} times in 10" if tenths > 1 else "1 time in 10"
    return f"1 time in {round(1 / chance)}" if chance >= 0.01 else "hardly ever"


def doubt_text(doubts: Doubts) -> str:
    """What the doubt is about, the likeliest first; empty where there is hardly any.

    >>> doubt_text(Doubts(cause=0.03, repair=0.004, beside=0.3))
    'The rest: another fault beside it (3 times in 10), or another cause (1 time in 33).'
    """
    parts = {
        "another fault beside it": doubts.beside,
        "another cause": doubts.cause,
        "the repair does not hold": doubts.repair,
    }
    named = sorted((part for part in parts if parts[part] >= 0.01), key=lambda part: -parts[part])
    told = [f"{part} ({out_of_ten(parts[part])})" for part in named]
    if not told:
        return ""
    return f"The rest: {', '.join(told[:-1])}{', or ' if told[1:] else ''}{told[-1]}."


def _check(case: QuoteCase) -> None:
    if not case.suspicions:
        raise InputError(
            "a quote needs something that is wrong",
            field="suspicions",
            remedy="Look for the fault first",
        )
    for chance in (case.works, *(s.chance for s in case.suspicions)):
        if not 0.0 <= chance <= 1.0:
            raise InputError(
                f"a chance of {chance}", field="chance", remedy="Give a chance from 0 to 1"
            )


def _first(case: QuoteCase) -> tuple[str, ...]:
    # a price for a cause that is not known yet is a guess, and must look like one
    if not case.still_to_do:
        return ()
    return (
        (
            "This is a first estimate. One check is still to be done before we promise a price: "
            f"{case.still_to_do}."
        ),
        "What it shows may change the work and the price.",
    )


def _wrong(ranked: tuple[Suspicion, ...]) -> tuple[str, ...]:
    first, *others = ranked
    cause = (
        f"{'Most likely' if first.chance >= 0.5 else 'The likeliest of several'}: {first.title}. "
        f"{first.means}"
    )
    # the list may be cut, the first is always named
    also = [
        f"It could also be: {s.title} ({out_of_ten(s.chance)})."
        for s in others
        if s.chance >= _NAMED
    ]
    return (cause.strip(), *also)


def _sure(chance: float) -> str:
    # the customer's words for our belief (from memory): never 'certain'
    words = ((0.9, "sure"), (0.7, "fairly sure"), (0.5, "not quite sure"), (0.0, "not sure yet"))
    word = next(word for least, word in words if chance >= least)
    return f"We are {word}: where a machine shows the same, this is the fault {out_of_ten(chance)}."


def _cost(case: QuoteCase) -> tuple[str, ...]:
    estimate = case.estimate
    # under the guarantee there is no price to explain
    if case.free:
        return ("It came back within our guarantee: this costs you nothing.", _holds(case))
    sentences = [f"The repair as planned costs {show(estimate.payable_minor, estimate.currency)}."]
    if estimate.tax_percent:
        tax = show(estimate.tax_minor, estimate.currency)
        sentences.append(
            f"In it: tax of {estimate.tax_percent:g} %, {tax}, as set by this workshop."
        )
    return (*sentences, _holds(case))


def _holds(case: QuoteCase) -> str:
    # beside how often it comes back, it must be clear that this is before the proof
    right = out_of_ten(case.works)
    shown = f"This work alone puts the machine right {right}; a {case.proof} shows whether it did."
    return " ".join(part for part in (shown, doubt_text(case.doubts)) if part)


def _at_most(case: QuoteCase) -> tuple[str, ...]:
    estimate = case.estimate
    if case.free:
        return ()
    low, high = (
        show_about(minor, estimate.currency)
        # a range that leaves out its own price is believed by nobody
        for minor in (
            min(estimate.low_minor, estimate.payable_minor),
            max(estimate.high_minor, estimate.payable_minor),
        )
    )
    sentences = [
        (
            f"You pay no more than {show(estimate.ceiling_minor, estimate.currency)} unless we ask"
            " you first and you agree."
        )
    ]
    # a fixed price has no range to speak of
    if low == high:
        return tuple(sentences)
    sentences.append(f"8 times in 10 it ends between {low} and {high}.")
    if estimate.high_minor > estimate.ceiling_minor:
        sentences.append("Beyond what you agreed to, only if you agree again.")
    return tuple(sentences)


def _worse(case: QuoteCase) -> tuple[str, ...]:
    estimate = case.estimate
    if case.free:
        return (
            (
                "If it turns out to be something else, we stop and ask you before anything costs "
                "money."
            ),
        )
    extras = (
        (e.title, out_of_ten(e.chance), show_about(e.gross_minor, estimate.currency))
        for e in estimate.extras
    )
    sentences = [f"{title} ({chance}): {more} more." for title, chance, more in extras]
    # said before the work: what a no costs later
    no = (
        f"you owe {show(case.fee_minor, estimate.currency)} for finding the fault"
        if case.fee_minor
        else "you owe nothing"
    )
    return (
        *sentences,
        f"If it would cost more than agreed, we stop and ask you. If you then say no, {no}.",
    )


def _worth(case: QuoteCase) -> tuple[str, ...]:
    if not case.rules:
        return ()
    # the first rule is ours; the others are named because customers bring them up
    ours, *others = case.rules
    currency, price = case.estimate.currency, case.estimate.payable_minor
    below = price <= ours.limit_minor
    side = f"; this one is {'below' if below else 'above'} that"
    # the ways out weigh more than this rule does: where they disagree, they have the word
    repair = next((option for option in case.options if option.id == _REPAIR), None)
    if repair is not None and repair.best != below:
        side = ""
    sentences = [
        (
            f"For you a repair is worth up to {show_about(ours.limit_minor, currency)}{side}. "
            f"{ours.why}"
        )
    ]
    sentences += [
        f'The rule "{r.title}" would say {show_about(r.limit_minor, currency)}. {r.why}'
        for r in others
    ]
    return tuple(sentences)


def _alternatives(case: QuoteCase) -> tuple[str, ...]:
    open_ones = [option for option in case.options if option.available]
    repair = next((option for option in open_ones if option.id == _REPAIR), None)
    if repair is None:
        return tuple(f"{option.title}." for option in open_ones)
    others = [option for option in open_ones if option is not repair]
    if repair.best:
        head = "Of the ways open to you, the repair comes out best."
    else:
        best = next(option for option in open_ones if option.best)
        head = f"The repair is not the best way for you. Best: {best.title}."
    return (head, *(_against(option, repair, case.estimate.currency) for option in others))


def _leaving(case: QuoteCase) -> tuple[str, ...]:
    if not case.forbidden:
        return ()
    return (
        *case.forbidden,
        (
            "Unrepaired it leaves us only made safe, or put out of use, or once you have signed"
            " that you know that it must not be used. Local codes come first."
        ),
    )


def _against(option: WayOut, repair: WayOut, currency: str) -> str:
    gap = option.value_minor - repair.value_minor
    # what is about nothing is not called better or worse
    if show_about(gap, currency) == show_about(0, currency):
        return f"{option.title}: as good as the repair."
    much = show_about(abs(gap), currency)
    # said whole: other languages have the word elsewhere
    if gap > 0:
        return f"{option.title}: about {much} better for you than the repair."
    return f"{option.title}: about {much} worse for you than the repair."


def _guarantee(case: QuoteCase) -> tuple[str, ...]:
    if case.guarantee is None or case.guarantee.months == 0:
        return ("No guarantee beyond what the law gives you.",)
    cover, months = case.guarantee.cover, case.guarantee.months
    estimate = case.estimate
    # without a law of life only the repair itself can come back
    if cover.life is None:
        what = "if it comes back for the same reason"
        then = f"Once its {case.proof} ran true, such a repair comes back"
    else:
        what, then = "if it fails again", "That happens"
    chance = out_of_ten(cover.comes_back(months))
    sentences = [
        (
            f"Guaranteed for {months} months: {what}, we mend it for nothing. {then} within that "
            f"time {chance}."
        )
    ]
    for longer in sorted(case.guarantee.longer):
        if longer > months:
            net = cover.price_minor(longer) - cover.price_minor(months)
            gross = round_minor(net + percent(net, estimate.tax_percent))
            whole = to_step(gross, 10 ** exponent(estimate.currency), "up")
            sentences.append(f"{longer} months instead: {show(whole, estimate.currency)} more.")
    return tuple(sentences)
