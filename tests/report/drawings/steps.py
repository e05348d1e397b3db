"""Steps of a family as the bench would show them, without planning: for tests of what is drawn."""

from counterpoise.catalog.family import CheckEntry
from counterpoise.workshop.diagnosis.assessment import Opening, Step, Suspect


def step_of(family, entry):
    """The step of a check or repair with every panel on its way still shut."""
    way, access = [], entry.access
    while access is not None:
        panel = family.access[access]
        texts = tuple(family.cautions[name].text for name in panel.cautions)
        way.insert(
            0, Opening(panel.id, panel.title, 5, panel.people, panel.tools, texts, panel.steps)
        )
        access = panel.behind
    texts = tuple(family.cautions[name].text for name in entry.cautions)
    kind = "check" if isinstance(entry, CheckEntry) else "repair"
    return Step(
        kind,
        entry.id,
        entry.title,
        entry.minutes,
        entry.people,
        entry.tools,
        texts,
        tuple(way),
        entry.steps,
    )


def all_steps(family):
    return [
        step_of(family, entry)
        for table in (family.checks, family.repairs)
        for entry in table.values()
    ]


def suspects_of(family):
    """All faults, the first the likeliest: more than any job will suspect at once."""
    total = sum(2.0**-i for i in range(len(family.faults)))
    return [
        Suspect(fault.id, fault.title, fault.means, 2.0**-i / total, "likely")
        for i, fault in enumerate(family.faults.values())
    ]
