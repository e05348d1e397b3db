"""Where the real repair records lie that the tests import."""

from pathlib import Path

TABLE = "ords_washing_machine_rows_nobrand.csv"


def repair_records() -> Path:
    """The table of fifty real repair records (Open Repair Data, CC BY-SA 4.0)."""
    return Path(__file__).parent / "services" / "open_repair_data" / TABLE
