"""What is asked of every program, page by page and command by command."""

from __future__ import annotations

from typing import Any

REQUESTS = "requests.json"
PATIENCE_S = 900.0  # the first answer waits for what is compiled
WAIT_S = 120.0
HOST = "127.0.0.1:8642"  # what the pages are called by, whatever their port
FAMILIES = ("front_loader", "top_loader")
UNSURE = ("cannot_reach", "could_not_tell")
PAGES = (
    "", "steps", "evidence", "decision", "estimate", "quote", "sheet", "machine", "twin", "parts",
    "close", "recording", "record", "measure",
)  # fmt: skip
PAPERS = ("quote.pdf", "labels.pdf", "sheet.pdf", "spin.svg")
# (every so many jobs, the command); {n} is the job, what is written to {file} is kept
JOB_COMMANDS = (
    (3, "job next {n}"),
    (7, "job show {n} --json"),
    (7, "job sheet {n} --html {file}"),
    (25, "job show {n}"),
    (25, "job steps {n}"),
    (25, "job estimate {n}"),
    (25, "job quote {n}"),
    (25, "job parts {n}"),
    (25, "job machine {n}"),
    (25, "job next {n} --careful"),
    (25, "job next {n} --json"),
)
COMMANDS = (
    "yard --json", "yard", "job list --all", "job list --all --json", "stock list", "prices list",
    "ledger", "ledger --json", "settings show", "guarantee --family top_loader", "catalog families",
)  # fmt: skip
GLOBAL = (
    "jobs", "jobs/new?family=front_loader", "jobs/new?family=top_loader", "yard", "yard?hours=2",
    "stock", "prices", "ledger", "settings", "phone",
    "guarantee", "guarantee?family=top_loader&age=9", "guarantee?price=60",
    "twin", "twin?family=top_loader&fault=damper_dead", "twin?unbalance=0.6&load=4",
)  # fmt: skip
FILES = (
    "", "jobs/new", "ledger.csv", "prices.csv", "mark.svg", "style.css", "sheet.css", "record.js",
    "keep.js", "motion.js", "api/openapi.json",
)  # fmt: skip
TYPED: dict[str, dict[str, str]] = {
    "level": {"front.0": "0.8", "front.1": "-0.6", "left.0": "-1.1", "floating.0": "rear left"},
    "level_again": {
        "front.0": "0.1", "left.0": "0", "floating.0": "none",
        "was_front.0": "0.8", "was_front.1": "-0.6", "was_left.0": "-1.1",
        "was_floating.0": "rear left", "was_gap.0": "2",
    },
    "runout": {f"gaps.{i}": f"{9 - i % 4 * 0.6:g}" for i in range(8)},
    "strike": {f"walked.{i}": f"{9 - i % 4 * 0.6:g}" for i in range(8)},
    "bearing_tones": {"size.0": "6205", "speed.0": "1200"},
    "play": {"radial.0": "1.1", "radial.1": "1.3", "axial.0": "0.2"},
    "dampers": {"left.0": "7.5", "left.2": "8.1", "right.0": "1.2", "right.2": "1.3"},
    "bounce": {"push.0": "40", "count.0": "3"},
    "springs": {"left.0": "206", "right.0": "200"},
    "counterweight": {"loose.0": "1", "dust.0": "some"},
    "bearing": {"feel.0": "rough", "sound.0": "rumble"},
    "windings": {"ohm.0": "5.1", "ohm.1": "5.2", "ohm.2": "6.0", "leads.0": "0.1"},
    "safety": {"earth.0": "0.1", "insulation.0": "50", "conductor.0": "0.8", "touch.0": "0.1"},
    "lift": {"mass.0": "72.5"},
    "tip": {},
}  # fmt: skip

Entry = dict[str, Any]  # one request: its name, and how it is asked
