"""Every error raised on purpose, as one tree.

A message says where, what it must be, what it was, and what to do about it.
"""


class SeedbeatError(Exception):
    """Base of every error that a user can mend; the command line exits with 2."""


class ScenarioError(SeedbeatError):
    """A scenario file, or something it names, cannot be used as it stands."""


class CalendarError(SeedbeatError):
    """An iCalendar file cannot be read."""


class RecordsError(SeedbeatError):
    """A table of events cannot be read."""


class OutputError(SeedbeatError):
    """A result cannot be written where it was asked for."""


class TooLargeError(ScenarioError):
    """A scenario would run for hours or fill the memory."""


class KeptError(SeedbeatError):
    """A file of kept results cannot be used."""


class WorkerError(SeedbeatError):
    """The processes that simulate cannot be reached, or ended too early."""
