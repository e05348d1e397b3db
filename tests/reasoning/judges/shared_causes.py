"""Findings with a shared cause, summed over everything that may have happened: plain loops.

Written from the story, not from the formula: a draw says what happens (is the group misled, which
other machine, is a repeat the same again, what does the machine show, which readings slip), and
the chance of all draws that give the readings is added up.
"""

from itertools import product


def chance_of_readings(table, h, readings, slips, same_again):
    """The chance that machine ``h`` gives these readings (outcome numbers) of one check."""
    outcomes, n = len(table), len(readings)
    total = 0.0
    for again, weight in ((True, same_again), (False, 1.0 - same_again)):
        # what the machine shows at each try: once for all, or each time anew
        for drawn in product(range(outcomes), repeat=1 if again else n):
            shown = drawn * n if again else drawn
            chance = weight
            for o in drawn:
                chance *= table[o][h]
            # every way in which readings may slip; ``slips`` says what a slip puts down, how often
            for which in product((True, False), repeat=n):
                path = chance
                for slipped, o, read in zip(which, shown, readings, strict=True):
                    path *= slips[read] if slipped else (1.0 - sum(slips)) * (o == read)
                total += path
    return total


def chance_of_group(tables, h, readings, slips, same_again, misled, background):
    """The chance that machine ``h`` gives all readings of checks that look at one thing."""

    def of_machine(machine):
        chance = 1.0
        for name, numbers in readings.items():
            chance *= chance_of_readings(
                tables[name], machine, numbers, slips[name], same_again[name]
            )
        return chance

    astray = sum(p * of_machine(other) for other, p in enumerate(background))
    return (1.0 - misled) * of_machine(h) + misled * astray
