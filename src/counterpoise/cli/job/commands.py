"""``counterpoise job``: what the pages do, in the terminal."""

import click

from counterpoise.cli.lazy import Lazy, LazyGroup


# a list of jobs must not wait for the estimate or the physics: each is imported when it is named
@click.group(
    cls=LazyGroup,
    lazy={
        "came-back": Lazy(
            "job.intake:came_back", "Open a closed job again: its machine came back."
        ),
        "close": Lazy("job.ending:close", "Close the job: ENDING is the id of the way it ended."),
        "decide": Lazy(
            "job.ending:decide", "Put a decision down: OPTION is the id of a way to end the job."
        ),
        "estimate": Lazy(
            "job.estimate:estimate",
            "Say what the work costs: labour, panels, parts, tax, and the most to promise.",
        ),
        "fit": Lazy(
            "job.fit:fit",
            "Fit the machine in motion to RECORDING, the id of one saved in the job; "
            "without it, to the latest.",
        ),
        "list": Lazy("job.overview:list_jobs", "List the jobs, newest first."),
        "machine": Lazy(
            "job.machine:machine",
            "Show what is known of this very machine; with --set, put more down.",
        ),
        "new": Lazy("job.intake:new", "Take a machine in."),
        "next": Lazy(
            "job.overview:next_step",
            "Say what to do now, why, what else it could be, what it is worth.",
        ),
        "note": Lazy("job.work:note", "Save a remark that belongs to no check."),
        "parts": Lazy(
            "job.donor:parts",
            "Say which parts of the machine are good and worth taking off, and write labels "
            "for them.",
        ),
        "photo": Lazy(
            "job.work:photo",
            "Keep photos with the job; where they were taken is removed from them.",
        ),
        "proof": Lazy("job.work:proof", "Save how the proof spin went."),
        "quote": Lazy(
            "job.quote:quote",
            "Quote the work in plain words: what is wrong, how sure, the price, the most, the "
            "other ways, the guarantee.",
        ),
        "record": Lazy(
            "job.work:record",
            "Save what CHECK showed: OUTCOME is one of its answers, could_not_tell, or "
            "cannot_reach.",
        ),
        "recording": Lazy(
            "job.recording:recording",
            "Read the recording FILE (CSV or CSV.gz) of a spin and save it in the job.",
        ),
        "repair": Lazy("job.work:repair", "Put REPAIR down as done."),
        "retract": Lazy("job.ending:retract", "Take ENTRY back."),
        "sheet": Lazy(
            "job.sheet:sheet", "Write the job sheet; without --pdf or --html, to job-NUMBER.pdf."
        ),
        "show": Lazy("job.overview:show", "Show all that was saved about a job."),
        "steps": Lazy("job.overview:steps", "List every check and repair that fits this machine."),
    },
)
def job() -> None:
    """Take machines in, find out, decide, close."""
