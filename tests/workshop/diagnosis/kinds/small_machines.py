"""Small invented machines of two features, for the tests of what is not known of a machine."""

from dataclasses import replace

from tests.workshop.small import FAMILY as SMALL

from counterpoise.catalog.family import CheckEntry, FaultEntry, Feature, RepairEntry

_INVENTED = "invented"


def _fault(name, prior, needs=None):
    return FaultEntry(
        name, name, name, "drum", prior, _INVENTED, complaints={name: {"shakes": 0.4 + prior}},
        needs=needs or {},
    )  # fmt: skip


def _check(name, under, needs=None, **more):
    return CheckEntry(
        name, name, "look", 1.0, ("Look.",), "What?", {"fine": "fine", "odd": "odd", "bad": "bad"},
        under, {"odd": 0.05, "bad": 0.02}, _INVENTED, needs=needs or {}, **more,
    )  # fmt: skip


def _tells(feature, values, error):
    return CheckEntry(
        f"look_{feature}", f"Look at the {feature}", "look", 1.0, ("Look.",), "Which?",
        {value: value for value in values}, {}, {}, _INVENTED, tells=feature, error=error,
    )  # fmt: skip


FAMILY = replace(
    SMALL,
    id="two_features",
    features={
        "drive": Feature("drive", "Drive?", {"direct": "d", "belt": "b"}, {"direct": 0.4, "belt": 0.6}, _INVENTED),
        "tub": Feature(
            "tub", "Tub?", {"bolted": "b", "welded": "w", "steel": "s"},
            {"bolted": 0.5, "welded": 0.3, "steel": 0.2}, _INVENTED,
        ),
    },
    faults={
        "bearing": _fault("bearing", 0.2),
        "belt": _fault("belt", 0.15, {"drive": "belt"}),
        "rotor": _fault("rotor", 0.1, {"drive": "direct"}),
        "seam": _fault("seam", 0.05, {"tub": "welded"}),
    },
    checks={
        "turn": _check("turn", {"bearing": {"odd": 0.3, "bad": 0.6}, "rotor": {"odd": 0.4}}),
        "see_belt": _check("see_belt", {"belt": {"odd": 0.2, "bad": 0.7}}, {"drive": "belt"}),
        "see_seam": _check("see_seam", {"seam": {"bad": 0.9}, "bearing": {"odd": 0.3}}, {"tub": "welded"}),
        "look_drive": _tells("drive", ("direct", "belt"), 0.08),
        "look_tub": _tells("tub", ("bolted", "welded", "steel"), 0.03),
    },
    repairs={
        "new_bearing": RepairEntry(
            "new_bearing", "New bearing", 60, ("Do it.",), {"bearing": 0.9}, _INVENTED, needs={"tub": "bolted"}
        ),
        "new_tub": RepairEntry("new_tub", "New tub", 90, ("Do it.",), {"bearing": 0.95, "seam": 0.97}, _INVENTED),
        "new_belt": RepairEntry("new_belt", "New belt", 10, ("Do it.",), {"belt": 0.96}, _INVENTED, needs={"drive": "belt"}),
    },
)  # fmt: skip
