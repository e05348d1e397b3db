"""The list of jobs as page, terminal and API tell it: by what blocks each, page by page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal

from counterpoise.report.words import numbers
from counterpoise.report.words.entry_lines import option_title
from counterpoise.workshop.services.jobs import JobLine, LineQuery, State
from counterpoise.workshop.services.next_machine import Weighable, ranked, weigh
from counterpoise.workshop.services.workshop import Workshop

# In the order of the page: what a hand can take up first, then what others have to do.
GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "now": "Do now",
        "proof": "To be proven",
        "customer": "Waits for the customer",
        "parts": "Waits for parts",
        "sell": "To be sold",
        "closed": "Closed",
    }
)
PER_PAGE = 50  # closed jobs on a page; of the open ones all are shown
_NOT_YET = "not worked out yet"
_BEFORE = "worked out before the last change"
# Ways after which a customer has to come for the machine.
_FETCHED = frozenset({"hand_back", "replace", "refer_on"})


@dataclass(frozen=True, slots=True)
class ListedJob:
    """A line of the list of jobs; ``state`` is where it stands, in words.

    ``trouble``: why it cannot be worked on (the file of its family is gone or broken); mostly "".
    ``group`` is what blocks it (see :data:`GROUPS`), ``next`` the step to do now and ``minutes``
    all that is expected of it, None where that is not known; ``doubt`` says where they were worked
    out before the last change, or not yet. ``promised`` is a day (ISO 8601) or empty.
    """

    number: int
    title: str
    state: str
    open: bool
    trouble: str = ""
    group: str = "now"
    next: str = ""
    minutes: float | None = None
    doubt: str = ""
    promised: str = ""
    late: bool = False
    owner: str = "customer"


@dataclass(frozen=True, slots=True)
class JobsPage:
    """A page of the list: the open jobs by group, the closed ones of this page.

    ``pages`` counts the pages of closed ones (1 at least), ``open`` and ``closed`` all that were
    asked for, ``mistakes`` those opened by mistake, which are in no group.
    """

    search: str
    page: int
    pages: int
    open: int
    closed: int
    mistakes: int
    groups: Mapping[str, tuple[ListedJob, ...]]

    @property
    def open_jobs(self) -> tuple[ListedJob, ...]:
        """The open jobs of all groups."""
        return tuple(job for jobs in self.groups.values() for job in jobs if job.open)


def job_list(workshop: Workshop) -> list[ListedJob]:
    """The jobs of a workshop in words, the newest first; also those that cannot be worked on."""
    return _listed(workshop, workshop.jobs.lines())


def jobs_asked_for(
    workshop: Workshop, search: str = "", group: str = "", page: int = 1
) -> list[ListedJob]:
    """The jobs with these words, newest first, :data:`PER_PAGE` of a page.

    ``group`` is one of :data:`GROUPS`, ``mistake``, or empty for all but those.
    """
    states: Mapping[str, State | Literal[""]] = {"": "", "closed": "closed", "mistake": "mistake"}
    if group in states:
        query = LineQuery(states[group], search, PER_PAGE, PER_PAGE * (page - 1))
        return _listed(workshop, workshop.jobs.lines(query))
    listed = _listed(workshop, workshop.jobs.lines(LineQuery("open", search)))
    wanted = [job for job in listed if job.group == group]
    return wanted[PER_PAGE * (page - 1) : PER_PAGE * page]


def jobs_page(workshop: Workshop, search: str = "", page: int = 1) -> JobsPage:
    """A page of the list; a page behind the last has no closed jobs."""
    lines = workshop.jobs.lines(LineQuery("open", search))
    closed = workshop.jobs.count(LineQuery("closed", search))
    query = LineQuery("closed", search, PER_PAGE, PER_PAGE * (page - 1))
    kept = workshop.kept.shown(lines)
    listed = {job.number: job for job in _in_words(workshop, lines, kept)}
    # What pays most for its minutes comes first, as in the yard.
    settings, today = workshop.settings(), date.fromisoformat(workshop.now()[:10])
    weighed = [weigh(number, figures, settings, today) for number, (figures, _) in kept.items()]
    order = [job.number for job in ranked(weighed)]
    order += [number for number in listed if number not in order]
    groups: dict[str, list[ListedJob]] = {group: [] for group in GROUPS}
    for number in order:
        groups[listed[number].group].append(listed[number])
    groups["closed"] = _listed(workshop, workshop.jobs.lines(query))
    return JobsPage(
        search=search,
        page=page,
        pages=max(1, -(-closed // PER_PAGE)),
        open=len(lines),
        closed=closed,
        mistakes=workshop.jobs.count(LineQuery("mistake", search)),
        groups=MappingProxyType({name: tuple(jobs) for name, jobs in groups.items()}),
    )


def _listed(workshop: Workshop, lines: Sequence[JobLine]) -> list[ListedJob]:
    return _in_words(workshop, lines, workshop.kept.shown([line for line in lines if line.open]))


def _in_words(
    workshop: Workshop, lines: Sequence[JobLine], kept: Mapping[int, tuple[Weighable, bool]]
) -> list[ListedJob]:
    """The jobs in words, with what was last worked out of each."""
    # asked once a family: a list may be long
    families = {line.family for line in lines if not line.damage}
    trouble = {key: workshop.families.trouble(key) for key in families}
    today = workshop.now()[:10]
    return [
        _one(line, kept.get(line.number), line.damage or trouble[line.family], today)
        for line in lines
    ]


def _one(line: JobLine, kept: tuple[Weighable, bool] | None, trouble: str, today: str) -> ListedJob:
    worked, holds = kept or (None, False)
    group = _group(line, worked, today)
    # a closed job has nothing before it, and where a family is gone nothing can be worked out
    silent = not line.open or bool(trouble)
    return ListedJob(
        number=line.number,
        title=line.title,
        state=_state(line),
        open=line.open,
        trouble=trouble,
        group=group,
        next="" if silent or worked is None else worked.next,
        minutes=None if silent or worked is None else worked.minutes,
        doubt="" if silent or holds else _NOT_YET if worked is None else _BEFORE,
        promised=line.promised if line.open else "",
        late=line.open and bool(line.promised) and line.promised < today,
        owner=line.owner,
    )


def _group(line: JobLine, worked: Weighable | None, today: str) -> str:
    """What blocks a job, by its entries; by its next step only whether somebody has to be asked."""
    if not line.open:
        return "closed"
    if line.parts_due > today:
        return "parts"
    if line.proof == "due":
        return "proof"
    customer = line.owner == "customer"
    if line.proof == "passed" or line.decision == "sell_as_is":
        return "customer" if customer else "sell"
    if customer and line.decision in _FETCHED:
        return "customer"
    # nobody repairs a customer's machine, or ends it, unasked
    asks = worked is not None and worked.next_kind in {"repair", "ending"}
    return "customer" if customer and asks and not line.decision else "now"


def _state(line: JobLine) -> str:
    last = numbers.day(line.last_at)
    if not line.open:
        return f"closed {last}: {option_title(line.ending)}"
    # a decision is what a machine waits on; how many findings led to it no longer matters
    if line.decision:
        return f"decided: {option_title(line.decision)}; last touched {last}"
    # entry 1 is the intake
    count = line.entries - 1
    if not count:
        return f"came in {last}, nothing found yet"
    return f"{count} {'entry' if count == 1 else 'entries'} since it came in, last touched {last}"
