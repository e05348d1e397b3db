"""Where the real repair records lie: beside the repository. Missing ones are a failure, not a skip."""

from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]


def repair_records() -> Path:
    """The table of fifty real repair records (Open Repair Data, CC BY-SA 4.0)."""
    table = REPOSITORY.parent / "shared" / "data" / "ords_washing_machine_rows_nobrand.csv"
    assert table.is_file(), (
        f"put {table.name} into ../shared/data, beside {REPOSITORY.name}: it is missing"
    )
    return table
