"""Parts that live in a set: laws over all of them, and the mistakes a file can make with one."""

import re
from pathlib import Path

import pytest

from counterpoise.catalog.loader import families, inspect_family, load_family

DATA = Path(__file__).parents[2] / "src" / "counterpoise" / "catalog" / "data"
# a part whose own rule says so lives in a set, whatever else the file says
SAYS_SET = re.compile(r"\b(set|pair|together|all dogs)\b")
SETS = [(name, key) for name in families() for key in load_family(name).sets]


@pytest.mark.parametrize("name", families())
def test_every_part_that_is_bought_as_a_set_stands_in_one(name):
    family = load_family(name)
    in_sets = {part for part_set in family.sets.values() for part in part_set.parts}
    said = {part.id for part in family.parts.values() if SAYS_SET.search(part.rule)}
    # what only brings a set along is none
    assert said - in_sets <= {"drum_support"}
    assert in_sets


@pytest.mark.parametrize(("name", "key"), SETS)
def test_what_wears_a_piece_is_cured_by_the_set_and_never_by_putting_it_back(name, key):
    family, part_set = load_family(name), load_family(name).sets[key]
    whole = family.repairs[part_set.renew[0]]
    assert set(part_set.worn) <= set(whole.cures)
    assert set(whole.parts) & set(part_set.parts)
    for repair in part_set.put_back:
        cures = family.repairs[repair].cures
        assert cures
        assert not set(part_set.worn) & set(cures)
        # nothing of the set is bought for a piece that goes back
        assert not set(part_set.parts) & set(family.repairs[repair].parts)


@pytest.mark.parametrize(("name", "key"), SETS)
def test_a_piece_that_goes_back_is_tried_before_and_after(name, key):
    family, part_set = load_family(name), load_family(name).sets[key]
    for repair in (*part_set.put_back, *part_set.alone):
        text = " ".join(family.repairs[repair].steps).lower()
        assert "before" in text or "beside" in text, repair
        assert "again" in text, repair
        assert re.search(r"\b(the|means the|it is the) (set|pair)\b|or it is not put back", text), (
            repair
        )
    if part_set.put_back:
        assert "before and after" in part_set.try_it
        assert part_set.condemns


@pytest.mark.parametrize(("name", "key"), SETS)
def test_what_condemns_a_set_speaks_for_what_wears_it(name, key):
    family, part_set = load_family(name), load_family(name).sets[key]
    for shown in (part_set.condemns, part_set.several):
        for check, outcomes in shown.items():
            rows = family.checks[check].under
            leak = family.checks[check].otherwise
            for outcome in outcomes:
                assert any(
                    rows.get(worn, {}).get(outcome, 0.0) > 3 * leak[outcome]
                    for worn in part_set.worn
                ), (check, outcome)


@pytest.mark.parametrize(("name", "key"), SETS)
def test_one_piece_alone_is_renewed_only_where_something_can_allow_it(name, key):
    part_set = load_family(name).sets[key]
    if part_set.alone:
        assert part_set.others_good
        assert 0 < part_set.young_years <= 5
        for check, outcomes in part_set.others_good.items():
            assert not set(outcomes) & set(part_set.several.get(check, ()))


MISTAKES = [
    ("put_back: [reseat_damper]", "put_back: [reseat_dampr]", "there is no repair reseat_dampr; did you mean reseat_damper?"),
    ("push_dampers: [one_slack, more_slack]", "push_dampers: [one_slck]", "there is no outcome one_slck"),
    ("push_dampers: [one_slack, more_slack]", "push_damper: [one_slack]", "there is no check push_damper"),
    ("put_back: [reseat_damper]", "put_back: [replace_one_damper]", "replace_one_damper renews one piece and does something else"),
    ('try_it: "Push it by hand before and after: dry and firm both times."', 'try_it: ""', "not how it is tried"),
    ('worn: [damper_worn, "damper_separated:spent"]', 'worn: [damper_worn, "damper_separated:dry"]', "reseat_damper cures damper_separated:dry"),
    ("worn: [spring_tired, spring_broken]", "worn: [belt_worn]", "replace_springs does not cure belt_worn"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), MISTAKES)
def test_a_mistake_in_a_set_is_told(tmp_path, old, new, message):
    text = (DATA / "front_loader.yaml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "front_loader.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert any(message in problem for problem in inspect_family(path).problems)
