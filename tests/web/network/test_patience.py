"""Whoever is wrong again and again waits longer each time, and nobody waits with them."""

from counterpoise.web.network.patience import FREE, KEPT_S, LONGEST_S, MOST_KEYS, Patience


def _wrong(patience, key, times):
    for _ in range(times):
        patience.failed(key)
    return patience.wait_s(key)


def test_a_few_slips_cost_nothing_then_each_costs_twice_as_much():
    patience = Patience(lambda: 100.0)
    assert _wrong(patience, "here", FREE) == 0
    waits = [_wrong(patience, "here", 1) for _ in range(9)]
    assert waits == [1, 2, 4, 8, 16, 32, LONGEST_S, LONGEST_S, LONGEST_S]
    assert _wrong(patience, "here", 5000) == LONGEST_S


def test_nobody_else_waits():
    patience = Patience(lambda: 100.0)
    _wrong(patience, ("odo", "192.168.7.9"), 20)
    assert patience.wait_s(("odo", "192.168.7.10")) == 0
    assert patience.wait_s(("ada", "192.168.7.9")) == 0


def test_it_passes():
    now = [100.0]
    patience = Patience(lambda: now[0])
    _wrong(patience, "here", FREE + 3)
    now[0] += 3
    assert patience.wait_s("here") == 1
    now[0] += 2
    assert patience.wait_s("here") == 0
    now[0] += KEPT_S
    assert _wrong(patience, "here", 1) == 0
    _wrong(patience, "here", 20)
    patience.succeeded("here")
    assert _wrong(patience, "here", FREE) == 0


def test_a_flood_of_addresses_fills_no_memory():
    patience = Patience(lambda: 100.0)
    for number in range(MOST_KEYS + 50):
        patience.failed(number)
    assert len(patience._failures) == MOST_KEYS
