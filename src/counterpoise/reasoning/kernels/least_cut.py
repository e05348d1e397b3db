"""The least cut of pairs of repairs: what it costs at least that a set of them comes first."""

import numpy as np

from counterpoise.reasoning.kernels.compilation import kernel

SOURCE_DIGEST = "e469b03edc189a8d"  # see the package

FLOW = 1e-12  # flow below this is rounding


@kernel
def least_cut(pairs, fee):
    """Least that a set S of repairs costs when it comes first, found as the largest flow.

    Pairs inside S are charged in their better common order, pairs (i outside, j inside) at
    ``pairs[i, j]``, and each i outside at ``fee[i]``. It is a minimum cut, since the better order
    costs no more than both together; shortest augmenting paths find it.
    """
    n = fee.size
    source, sink = n, n + 1
    capacity = np.zeros((n + 2, n + 2))
    for i in range(n):
        capacity[i, sink] = fee[i]
        for j in range(i + 1, n):
            # both orders share the cheaper one; what the dearer costs beyond it depends on the side
            a, b = (i, j) if pairs[i, j] <= pairs[j, i] else (j, i)
            capacity[source, b] += pairs[a, b]
            capacity[b, a] += pairs[b, a]
    flow, back, line = 0.0, np.empty(n + 2, np.int64), np.empty(n + 2, np.int64)
    # stopping early only makes the cut smaller, and the bound is still one
    for _ in range(n * n):
        back[:] = -1
        back[source], line[0] = source, source
        head, tail = 0, 1
        while head < tail and back[sink] < 0:
            a = line[head]
            head += 1
            for b in range(n + 2):
                if back[b] < 0 and capacity[a, b] > FLOW:
                    back[b], line[tail] = a, b
                    tail += 1
        if back[sink] < 0:
            break
        push, b = np.inf, sink
        while b != source:
            push, b = min(push, capacity[back[b], b]), back[b]
        flow, b = flow + push, sink
        while b != source:
            capacity[back[b], b] -= push
            capacity[b, back[b]] += push
            b = back[b]
    return flow
