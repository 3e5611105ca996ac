"""Errors of the sessions room.

SessionsError
├── CasebookError   no casebook, a newer one, a read-only or full disk
│   └── CasebookBusy    another program writes to it; nothing was written, and the same call may be made again
│       └── CasebookFull    its disk is full; the same holds
├── CatalogueError  a name that is taken or unknown, a setup that lacks a track
│   └── MovedError      a recording that is not where it was
├── PlanError       a plan that cannot be made, sealed, changed or closed as asked
├── ListenError     a session that cannot be run here and now
├── ViewersError    an audience's test that cannot be written, or answers that cannot be read
├── MergeConflict   casebooks that contradict each other; nothing was merged
└── ExportError     data that cannot leave or be pooled as asked

Each message is one line: what is wrong, where, what was given, what to do next.
"""


class SessionsError(Exception):
    """Anything this room refuses; the message is one line for the person at the keyboard."""


class CasebookError(SessionsError):
    """A casebook that is missing, newer than this version, read-only, full or damaged."""


class CasebookBusy(CasebookError):
    """A casebook that another program is writing to: nothing was written or lost, and the call may be made again.

    Attributes
    ----------
    waits
        What is said while it is waited for, without where the casebook is: a listener reads it, too.
    """

    waits = "the casebook is in use by another program; waiting … nothing is lost"


class CasebookFull(CasebookBusy):
    """A casebook whose disk is full: nothing was half-written or lost, and the call may be made again."""

    waits = "the host's disk is full; waiting for space … what you answered is kept"


class CatalogueError(SessionsError):
    """A name that is taken or unknown, or a catalogue entry that lacks what is asked of it."""


class MovedError(CatalogueError):
    """A recording that is not where it was when it was added."""


class PlanError(SessionsError):
    """A plan that cannot be made, sealed, changed, closed or judged as asked."""


class ListenError(SessionsError):
    """A session that cannot be run here and now."""


class ViewersError(SessionsError):
    """An audience's test that cannot be written there, or answers of theirs that cannot be read."""


class ExportError(SessionsError):
    """Data that cannot leave a casebook, or be pooled, as asked."""


class MergeConflict(SessionsError):
    """Casebooks that contradict each other: `found` lists some of `number` contradictions, `ways` the ways out."""

    def __init__(self, folder: str, found: tuple[str, ...], number: int, ways: tuple[str, ...]) -> None:
        self.folder, self.found, self.number, self.ways = folder, found, number, ways
        first = found[0] if found else ""
        more = f" (and {number - 1} more)" if number > 1 else ""
        super().__init__(f"{folder} cannot be merged, and nothing was: {first}{more}. {' '.join(ways[:1])}")
