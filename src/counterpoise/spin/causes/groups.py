"""The nine groups a recording can speak about, and the faults that lie in each.

Within a group a recording cannot tell the faults apart: which damper, or whether a bearing or a
loose weight rattles. A lost piece of counterweight and one tired spring look like a sound machine
on the panel.
"""

GROUPS = (
    "heavy_load",
    "rattle",
    "dampers",
    "short_foot",
    "drum_support",
    "soft_floor",
    "spring_off",
    "transit_bolts",
    "nothing_found",
)

# Faults of the dynamics room by group. The prior of a group is its number of faults over all: with
# nothing else known each fault is as likely as any other. A job brings its own prior and uses the
# likelihoods.
FAULTS_OF: dict[str, tuple[str, ...]] = {
    "heavy_load": ("heavy_load",),
    "rattle": ("bearing_worn", "counterweight_loose"),
    "dampers": ("damper_dead", "two_dampers_dead", "damper_weak"),
    "short_foot": ("short_foot",),
    "drum_support": ("drum_support_cracked",),
    "soft_floor": ("soft_floor",),
    "spring_off": ("spring_off",),
    "transit_bolts": ("transit_bolts",),
    "nothing_found": ("sound", "counterweight_lost", "spring_tired"),
}

WORDS = {
    "heavy_load": "one heavy thing in the drum that will not spread",
    "rattle": "something rattles: a worn bearing or a loose counterweight",
    "dampers": "dampers worn or dead",
    "short_foot": "a foot does not reach the floor",
    "drum_support": "drum support cracked",
    "soft_floor": "the floor gives",
    "spring_off": "a spring is off",
    "transit_bolts": "transit bolts left in",
    "nothing_found": "nothing wrong that a recording can show",
}

PRIOR = {
    group: len(faults) / sum(map(len, FAULTS_OF.values())) for group, faults in FAULTS_OF.items()
}
