"""A session of free listening on record: begun, marked, and locked while somebody listens. It plays nothing."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook import free_rows, session_counters, session_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from . import session_lock
from .session_lock import SessionLock


class FreeSession:
    """A session of free listening on record. Made by `begin`; a context manager that ends and unlocks it."""

    def __init__(self, casebook: Casebook, listener: Listener, setups: Sequence[Setup], id: str, lock: SessionLock):
        self.casebook = casebook
        self.listener = listener
        self.setups = tuple(setups)
        self.id = id
        self._lock = lock

    def __enter__(self) -> FreeSession:
        return self

    def __exit__(self, *exc: object) -> None:
        self._lock.release()

    def mark(self, what: str, note: str = "") -> None:
        """Keep a turn of the session."""
        self.casebook.append_many([session_rows.new_mark(self.id, what, note)])


def begin(casebook: Casebook, listener: Listener, setups: Sequence[Setup], device: str) -> FreeSession:
    """A session of free listening, which never counts.

    Raises
    ------
    ListenError
        If the listener listens freely in another process.
    CasebookError
        If the casebook is read-only.
    """
    casebook.check_writable()
    lock = session_lock.lock(casebook.folder, f"free-{listener.id}", f"free listening of {listener.name}")
    try:
        new = free_rows.new_session(listener.id, [setup.id for setup in setups], device)
        ahead = session_counters.read_ahead(casebook)
        session_counters.append_turn(casebook, new.id, [new, session_rows.new_mark(new.id, "begun")], ahead)
    except BaseException:
        lock.release()
        raise
    return FreeSession(casebook, listener, setups, new.id, lock)
