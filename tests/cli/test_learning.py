"""``counterpoise learning``: what jobs taught, in words and as JSON."""

import json

from click.testing import CliRunner
from tests.workshop.learning.jobs_of import DAMPERS, FAMILY, workshop_of

from counterpoise.cli import main
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

PLACE = f"faults.{DAMPERS}.prior"


def test_it_says_what_was_learned_and_takes_a_figure_back(tmp_path):
    with Store(tmp_path / "learning.db") as store:
        workshop = Workshop(store, {FAMILY.id: FAMILY})

        def run(*words):
            return CliRunner().invoke(main, ["learning", *words], obj=workshop)

        assert "10 more closed jobs" in run().output
        workshop.jobs.add_all([JobFile(job.entries) for job in workshop_of(30, 18, 12)])
        said = run("learned", "--judge").output
        assert "25 % by the catalog, 40 % after your 60 jobs" in said
        assert "What was wrong: foretold better than by the catalog" in said
        told = json.loads(run("--take-back", PLACE, "--json").output)
        row = next(each for each in told["rows"] if each["place"] == PLACE)
        assert row["taken_back"]
        assert workshop.family(FAMILY.id).faults[DAMPERS].prior == 0.25
        assert "(taken back: the catalog's is used)" in run().output
        assert "Frozen: closings after" in run("--freeze").output
        assert "Put off" in run("--put-off").output
        both = run("--freeze", "--take-back", PLACE)
        assert both.exit_code != 0
        assert "Only one of" in both.output
