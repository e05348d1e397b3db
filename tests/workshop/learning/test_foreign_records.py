"""Records of others by a mapping: previewed, weak, shown, dropped again. All of it invented."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.workshop.learning.jobs_of import DAMPERS, DRUM, FAMILY, FEET
from tests.workshop.learning.test_pool_command import opened

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.errors import InputError
from counterpoise.learning.pooling import Start
from counterpoise.workshop.learning.pool.records import count_records, read_mapping, with_records

MAPPING = f"""
name = "invented-records"
family = "{FAMILY.id}"
weight = 0.1
source = "invented"
kind_column = "thing"
kinds = ["Machine"]
fault_column = "trouble"
[faults]
"It bounces" = "{DAMPERS}"
"Loud" = {{ {DRUM} = 0.5, {DAMPERS} = 0.25 }}
"Anything else" = {{}}
"""
TABLE = "id,thing,trouble\n" + "".join(
    f"{n},{thing},{trouble}\n"
    for n, (thing, trouble) in enumerate(
        [("Machine", "It bounces")] * 60 + [("Machine", "Loud")] * 20
        + [("Machine", "Anything else")] * 20 + [("Machine", "")] * 3 + [("Toaster", "Loud")] * 50
    )
)  # fmt: skip
PLACE = f"faults.{DAMPERS}.prior"


def test_records_count_as_the_mapping_says_and_never_more_than_the_catalog():
    mapping = read_mapping(MAPPING, {FAMILY.id: FAMILY})
    counted = count_records(TABLE, mapping)
    assert (counted.of, counted.left_out) == (100, {"": 3})
    assert counted.faults == {DAMPERS: 65.0, DRUM: 10.0}
    after = with_records(FAMILY, {}, [counted])
    # 0.25 worth 40 jobs, and ten jobs' worth of records
    assert after[PLACE] == Start(pytest.approx((10 + 6.5) / 50), pytest.approx(50.0), 0, 100)
    assert set(after) == {PLACE, f"faults.{DRUM}.prior"}
    assert f"faults.{FEET}.prior" not in after
    many = count_records("trouble,thing\n" + "It bounces,Machine\n" * 5000, mapping)
    assert with_records(FAMILY, {}, [many])[PLACE].worth == pytest.approx(80.0)


def test_previewed_taken_shown_and_dropped(tmp_path):
    (tmp_path / "t.csv").write_text(TABLE)
    (tmp_path / "m.toml").write_text(MAPPING)
    shop = opened(tmp_path / "shop", [])

    def run(*words):
        done = CliRunner().invoke(main, list(words), obj=shop)
        assert done.exit_code == 0, done.output
        return done.output

    files = [str(tmp_path / "t.csv"), str(tmp_path / "m.toml")]
    said = run("pool", "records", *files)
    assert "nothing was kept" in said
    assert f"{PLACE}: 25 % becomes 33 %" in said
    assert shop.family(FAMILY.id) is FAMILY
    told = json.loads(run("pool", "records", *files, "--take", "--json"))
    assert told["changes"][0] == {"place": PLACE, "before": 0.25, "after": pytest.approx(0.33)}
    assert shop.family(FAMILY.id).faults[DAMPERS].prior == pytest.approx(0.33)
    # the terminal breaks lines where it likes
    shown = " ".join(run("learning").split())
    assert "25 % by the catalog, 33 % by 100 records of others" in shown
    assert "Records invented-records: 100, each as 0.1 of a job (invented)." in shown
    # taken in again it is the same table, not a second one
    assert json.loads(run("pool", "records", *files, "--take", "--json"))["changes"] == []
    assert "counts no more" in run("pool", "drop", "invented-records")
    assert shop.family(FAMILY.id) is FAMILY


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("weight = 0.1", "weight = 2", "weight"),
        (f'"{DAMPERS}"', '"damper_wrn"', "is no fault"),
        ("source =", "sauce =", "does not say source"),
        ('"Loud" = {', f'"Loud" = {{ {FEET} = 0.5,', "more than 1"),
        (f'"{FAMILY.id}"', '"mangle"', "there is no 'mangle'"),
        ('"trouble"', '"trouble', "no TOML"),
        ("invented-records", "../records", "letters"),
    ],
)
def test_a_bad_mapping_is_refused(old, new, said):
    with pytest.raises(InputError, match=said):
        read_mapping(MAPPING.replace(old, new), {FAMILY.id: FAMILY})


def test_a_table_of_no_use_is_refused():
    mapping = read_mapping(MAPPING, {FAMILY.id: FAMILY})
    with pytest.raises(InputError, match="no column 'trouble'"):
        count_records("id,thing,troubles\n1,Machine,Loud\n", mapping)
    with pytest.raises(InputError, match="No record"):
        count_records("thing,trouble\nToaster,Loud\n", mapping)


def test_the_example_of_the_documentation_can_be_read():
    page = (Path(__file__).parents[3] / "docs" / "learning.md").read_text("utf-8")
    example = re.search(r"```toml\n(.*?)```", page, re.DOTALL)[1]
    mapping = read_mapping(example, {"front_loader": load_family("front_loader")})
    assert mapping.faults["Something else"] == {}
