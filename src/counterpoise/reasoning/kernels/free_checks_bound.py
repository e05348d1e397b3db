"""Upper bound where one fault is there: what the job is worth if every check left cost nothing.

With all outcomes known and the fault still not, repairs come in the order that theory proves
(chance over cost), so the bound is a mean over all outcomes together. It falls short of hindsight
because checks err and repairs are tried one after the other. Where each fault has a repair of its
own, the same pass adds up for every pair of repairs what it costs to have them the wrong way round;
the least cut through these sums then says what asking must cost at least.

Valid for exactly one fault and a retest that misses nothing (``Arrays.one_fault``). [derived]
"""

import numpy as np

from counterpoise.reasoning.kernels.bounds import EPS, opening_cost, total_of
from counterpoise.reasoning.kernels.compilation import kernel
from counterpoise.reasoning.kernels.least_cut import least_cut

SOURCE_DIGEST = "367c399b33579179"  # see the package

MOST_LEAVES = 4096  # combinations of outcomes beyond which the bound is not worth its time


@kernel
def informative_checks(k, w, done):
    """The checks not done that could change the belief at all, and whether they are few enough.

    The array is empty if their combinations of outcomes are more than ``MOST_LEAVES``.
    """
    informative, count, leaves = np.empty(k.check_cost.size, np.int64), 0, 1
    for c in range(k.check_cost.size):
        if done >> c & 1 or not _informative(k, w, c):
            continue
        informative[count] = c
        count += 1
        # every combination of outcomes is gone through, so their number is the price of the bound
        leaves *= k.outcomes[c]
        if leaves > MOST_LEAVES:
            return informative[:0], False
    return informative[:count], True


@kernel
def _informative(k, w, c):
    """Whether the outcomes of check ``c`` differ between any two sets held possible."""
    first = -1
    for h in range(w.size):
        if w[h] > 0.0:
            if first < 0:
                first = h
            for o in range(k.outcomes[c]):
                if abs(k.table[c, o, h] - k.table[c, o, first]) > EPS:
                    return True
    return False


@kernel
def _prices(k, w, tried, opened):
    """(R,) least price of each repair and (R,) its chance to help.

    Whoever does a repair has paid for the panels before it; a closed panel's price is shared by the
    repairs behind it. Where a failed retest shuts the panels, no opening serves two repairs.
    """
    repairs, none = k.repair_cost.size, k.cure.shape[1] - 1
    helps, price = np.zeros(repairs), k.repair_cost.copy()
    for r in range(repairs):
        if not tried >> r & 1:
            for h in range(w.size):
                if w[h] > 0.0 and k.members[h, 0] < none:
                    helps[r] += w[h] * k.cure[r, k.members[h, 0]]
    if k.retest_keeps == 0:
        for r in range(repairs):
            price[r] += opening_cost(k, k.repair_panels[r], opened)
        return price, helps
    for i in range(k.panel_cost.size):
        total = 0.0
        for r in range(repairs):
            if k.repair_panels[r] >> i & 1 and not opened >> i & 1:
                total += helps[r]
        for r in range(repairs):
            # a panel that is open costs nothing any more: its total is 0
            if total > 0.0 and k.repair_panels[r] >> i & 1:
                price[r] += k.panel_cost[i] * helps[r] / total
    return price, helps


@kernel
def _jobs(k, w, tried, opened):
    """What can be done about each set: (set, repair, chance, price, in bits), each (J,).

    A repair of several faults is split among them and its price shared by chance: in parts it can
    only be cheaper. A fault of several repairs is cured bit by bit (``flows`` = 1), each bit at the
    best ratio of chance to price of them all, as far as all together could: no order and no choice
    of them is cheaper.
    """
    price, helps = _prices(k, w, tried, opened)
    none, n = k.cure.shape[1] - 1, 0
    job_set, job_repair = np.empty(w.size, np.int64), np.empty(w.size, np.int64)
    chance, cost, flows = np.empty(w.size), np.empty(w.size), np.zeros(w.size)
    for h in range(w.size):
        fault = k.members[h, 0]
        if w[h] <= 0.0 or fault >= none:
            continue
        count, left, least = 0, 1.0, np.inf
        for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
            r = k.cure_repair[q]
            if not tried >> r & 1:
                count += 1
                left *= 1.0 - k.cure[r, fault]
                # price a unit of chance
                least = min(least, price[r] * w[h] / helps[r])
                job_repair[n] = r
        # a fault that nothing is left to cure makes no job
        if count > 0:
            job_set[n], chance[n], cost[n] = h, 1.0 - left, (1.0 - left) * least
            flows[n] = 0.0 if count == 1 else 1.0
            n += 1
    return job_set[:n], job_repair[:n], chance[:n], cost[:n], flows[:n]


@kernel
def _sort(p, cost, order):
    """Sort jobs by chance over cost, largest first; ``order`` is nearly right already."""
    # insertion: one outcome more hardly changes the order of the last combination
    for i in range(1, order.size):
        j = order[i]
        place = i
        while place > 0 and p[order[place - 1]] * cost[j] < p[j] * cost[order[place - 1]]:
            order[place] = order[place - 1]
            place -= 1
        order[place] = j


@kernel
def _in_order(k, u, job_set, p, cost, flows, order):
    """Worth of repairing in this order with the unnormalised belief ``u`` (H,).

    A job that would lose is left out, while the ones after it keep the chances of all before: an
    upper bound, exact where every ending has one worth.
    """
    mass = total_of(u)
    if k.forced:
        value = 0.0
        for j in order:
            if p[j] > 0.0:
                value += p[j] * k.pass_value[0] - cost[j] * (max(mass, 0.0) - 0.5 * flows[j] * p[j])
                mass -= p[j]
        return value
    best = -np.inf
    for e in range(k.ending_value.shape[0]):
        value, left = 0.0, mass
        for h in range(u.size):
            value += u[h] * k.ending_value[e, h]
        for j in order:
            price = cost[j] * (max(left, 0.0) - 0.5 * flows[j] * p[j])
            value += max(0.0, p[j] * (k.pass_value[0] - k.ending_value[e, job_set[j]]) - price)
            left -= p[j]
        best = max(best, value)
    return best


@kernel
def _to_the_stop(k, u, p, cost, order, sure):
    """How many jobs of the order are worth doing, and what they earn, where endings have one worth.

    ``sure`` (J,) is made false for jobs that would lose here if done alone.
    """
    left, ending = total_of(u), -np.inf
    if k.forced:
        return order.size, 0.0
    # every ending has one worth here, that of set 1 as well as any
    for e in range(k.ending_value.shape[0]):
        ending = max(ending, k.ending_value[e, 1])
    value, top, upto, mass = left * ending, left * ending, 0, left
    for i in range(order.size):
        j = order[i]
        if p[j] * (k.pass_value[0] - ending) < cost[j] * mass:
            sure[j] = False
        value += p[j] * (k.pass_value[0] - ending) - cost[j] * left
        left -= p[j]
        if value > top:
            top, upto = value, i + 1
    return upto, top


@kernel
def _add_inversions(p, cost, order, upto, pairs):
    """Add to ``pairs`` (J, J) what having each pair the wrong way round costs (Smith's exchange).

    Only pairs whose better half is worth doing count.
    """
    for a in range(upto):
        i = order[a]
        for b in range(a + 1, order.size):
            j = order[b]
            pairs[i, j] += cost[j] * p[i] - cost[i] * p[j]


@kernel
def free_checks_bound(k, w, done, tried, opened, with_charge):
    """Upper bound on the worth of the state with every check left for nothing.

    Returns (bound, charge, losses, first); the bound is infinite where it does not apply. With
    ``with_charge`` (only where ``Arrays.separable``): the charge is what asking must cost at least,
    ``losses`` (R,) what having a repair first costs over having it in its best place, ``first``
    (R,) whether it may as well come first whatever the outcomes.
    """
    losses, first = np.zeros(k.repair_cost.size), np.zeros(k.repair_cost.size, np.bool_)
    checks, few = informative_checks(k, w, done)
    if not few:
        return np.inf, 0.0, losses, first
    job_set, job_repair, chance, cost, flows = _jobs(k, w, tried, opened)
    n, count = job_set.size, checks.size
    order, p, pairs, sure = np.arange(n), np.empty(n), np.zeros((n, n)), np.ones(n, np.bool_)
    u, turn = np.zeros((count + 1, w.size)), np.zeros(count + 1, np.int64)
    u[0] = w
    # every combination of outcomes in turn, depth first: u[level] is the belief, not normalised,
    # after the outcomes of the first checks, turn[level] the outcome that is next
    total, level = 0.0, 0
    while level >= 0:
        if level < count and turn[level] < k.outcomes[checks[level]]:
            likelihood = k.table[checks[level], turn[level]]
            turn[level] += 1
            mass = 0.0
            for h in range(w.size):
                u[level + 1, h] = u[level, h] * likelihood[h]
                mass += u[level + 1, h]
            if mass > 0.0:
                level += 1
            continue
        if level == count:
            for j in range(n):
                p[j] = u[level, job_set[j]] * chance[j]
            _sort(p, cost, order)
            # one pass for both, since every combination of outcomes costs the same to reach
            if with_charge:
                upto, value = _to_the_stop(k, u[level], p, cost, order, sure)
                _add_inversions(p, cost, order, upto, pairs)
            if not with_charge or k.forced:
                value = _in_order(k, u[level], job_set, p, cost, flows, order)
            total += value
        turn[level] = 0
        level -= 1
    if not with_charge or count == 0:
        return total, 0.0, losses, first
    for j in range(n):
        for i in range(n):
            losses[job_repair[j]] += pairs[i, j]
        # it loses nothing in any case and is worth doing in each: nothing need come before it
        first[job_repair[j]] = sure[j] and losses[job_repair[j]] <= EPS
    return total, _charge(k, w, checks, job_set, chance, pairs), losses, first


@kernel
def _charge(k, w, checks, job_set, chance, pairs):
    """What the state's worth falls short of the free worth at least.

    Either nothing is asked, or some repairs come first and then a check. Repairs that come first
    are uninformed: each pair of them comes in one order, whatever the outcomes would be.
    """
    unasked, fee, left = 0.0, np.inf, total_of(w)
    mass = np.empty(job_set.size)
    # whoever asks pays for the cheapest question at least
    for c in checks:
        fee = min(fee, k.check_cost[c])
    for j in range(job_set.size):
        mass[j] = w[job_set[j]] * chance[j]
        left -= mass[j]
        for i in range(j):
            unasked += min(pairs[i, j], pairs[j, i])
    return min(unasked, least_cut(pairs, mass * fee) + fee * max(0.0, left))
