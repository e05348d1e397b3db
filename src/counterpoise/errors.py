"""Every error of the project.

CounterpoiseError
├── InputError          something given from outside is wrong; says what, where, what to do
│   ├── CatalogError    a family or workshop file; carries every mistake found, not just the first
│   ├── ModelError      an abstract model that cannot be solved as written
│   ├── ReadingError    a measurement by hand that cannot be right as given
│   └── RecordingError  a recording of a spin that cannot be read
├── NotFoundError       no such job, check, repair, family ...
└── StoreError          the workshop's store cannot be opened or written
    └── ConflictError   somebody else wrote to the job in between
"""


class CounterpoiseError(Exception):
    """Root of all errors raised on purpose."""


class InputError(CounterpoiseError):
    """Something given from outside is wrong.

    ``field`` names the field at fault (``""`` when the whole is), ``remedy`` says what to do.
    """

    def __init__(self, message: str, *, field: str = "", remedy: str = "") -> None:
        self.message, self.field, self.remedy = message, field, remedy
        super().__init__(". ".join(part.rstrip(".") for part in (message, remedy) if part))


class CatalogError(InputError):
    """A catalog file with mistakes; ``problems`` lists all as ``file:line: what; what to do``."""

    def __init__(self, problems: list[str]) -> None:
        self.problems = problems
        count = "1 mistake" if len(problems) == 1 else f"{len(problems)} mistakes"
        super().__init__(f"{count} found:\n" + "\n".join(f"  {problem}" for problem in problems))


class ModelError(InputError):
    """An abstract model that cannot be solved as written."""


class ReadingError(InputError):
    """A measurement by hand that cannot be right; ``meant`` is the likeliest slip, put right."""

    def __init__(
        self, message: str, *, field: str = "", remedy: str = "", meant: float | None = None
    ) -> None:
        self.meant = meant
        super().__init__(message, field=field, remedy=remedy)


class RecordingError(InputError):
    """A recording of a spin that cannot be read."""


class NotFoundError(CounterpoiseError):
    """No such job, check, repair or family; ``remedy`` says which there are, or where to look."""

    def __init__(self, message: str, *, remedy: str) -> None:
        self.message, self.remedy = message, remedy
        super().__init__(f"{message.rstrip('.')}. {remedy.rstrip('.')}")


class StoreError(CounterpoiseError):
    """The workshop's store cannot be opened, read or written; ``remedy`` says what to do."""

    def __init__(self, message: str, *, remedy: str = "") -> None:
        self.message, self.remedy = message, remedy
        # a message without a remedy stays as it is, full stop and all
        super().__init__(f"{message.rstrip('.')}. {remedy.rstrip('.')}." if remedy else message)


class ConflictError(StoreError):
    """Somebody else wrote to the job in between; nothing was stored.

    ``job`` is the number of the job (or ``lot`` that of the pieces) written to meanwhile, 0 where
    it is neither; ``since`` the number of the last entry (movement) that the writer had seen,
    ``sent`` the entry that was not stored, None where it was none.
    """

    def __init__(
        self, message: str, *, job: int = 0, lot: int = 0, since: int = 0, sent: object = None
    ) -> None:
        self.job, self.lot, self.since, self.sent = job, lot, since, sent
        super().__init__(message)
