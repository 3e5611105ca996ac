"""Writes of several threads in one transaction: a commit costs the disk as much for one row as for many.

Each part runs alone, in its turn, at the one connection that all of them share, and can fail by itself. It is over once
the commit is on disk that holds it; while one commit is on its way, parts gather for the next. Nobody is told what a
part read or wrote before that. It knows nothing of rows.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path

from . import database
from .database import Database


class GroupCommit:
    """Those who write to a file together; their connection is open while there are any."""

    def __init__(self) -> None:
        self._turn = threading.Lock()  # who has it is alone at the connection
        self._line = threading.Lock()  # for the numbers of those who want it
        self._db: Database | None = None
        self._members = 0
        self._came = 0
        self._waiting = 0
        self._refused: tuple[int, sqlite3.OperationalError] | None = None  # how many had come by then, what was said
        self._batch: Future[None] | None = None  # the transaction that is open; done once it is on disk

    @contextmanager
    def joined(self, file: Path) -> Iterator[None]:
        """Be one of those who write to the file together."""
        with self._line:
            if self._db is None:
                self._db = database.connect(file, one_thread=False)
            self._members += 1
        try:
            yield
        finally:
            with self._line:
                self._members -= 1
                if not self._members:
                    self._db.conn.close()
                    self._db = None

    @contextmanager
    def part(self, busy_timeout_ms: int, *, writes: bool) -> Iterator[Database]:
        """A part of a transaction, at the connection: when it ends all of it is on disk, or nothing.

        One that only reads opens no transaction, but waits for the one that is open, of which it may have read.

        Raises
        ------
        sqlite3.Error
            If another program holds the file for longer than the timeout, the disk is full, or a guard refuses.
        """
        came = self._queue()
        with self._turn:
            with self._line:
                self._waiting -= 1
            try:
                db, batch = self._begun(came, busy_timeout_ms, writes=writes)
                with self._refusing() if batch is None else self._apart(db, batch):
                    yield db
            finally:
                if self._batch is not None and not self._waiting:
                    self._commit(self._batch)
        if batch is not None:
            batch.result()

    def _queue(self) -> int:
        with self._line:
            self._came += 1
            self._waiting += 1
            return self._came

    # -- in turn -----------------------------------------------------------------------------------------------------
    def _begun(self, came: int, busy_timeout_ms: int, *, writes: bool) -> tuple[Database, Future[None] | None]:
        """The connection, and the transaction that is open."""
        if self._db is None:
            raise ValueError("whoever writes together joins first")
        if self._batch is None:
            if self._refused is not None and came <= self._refused[0]:  # it was waited for on behalf of the whole line
                raise sqlite3.OperationalError(*self._refused[1].args)
            self._db.conn.execute(f"PRAGMA busy_timeout = {busy_timeout_ms}")
            if writes:
                with self._refusing():
                    self._db.conn.execute("BEGIN IMMEDIATE")
                self._batch = Future()
        return self._db, self._batch

    @contextmanager
    def _refusing(self) -> Iterator[None]:
        """Where another program holds the file, refuse all who wait in line by now."""
        try:
            yield
        except sqlite3.OperationalError as error:
            with self._line:
                self._refused = self._came, error
            raise

    @contextmanager
    def _apart(self, db: Database, batch: Future[None]) -> Iterator[None]:
        """Something of a transaction that can fail by itself."""
        db.conn.execute("SAVEPOINT part")
        try:
            yield
        except BaseException as error:
            if db.conn.in_transaction:
                db.conn.execute("ROLLBACK TO part")
                db.conn.execute("RELEASE part")
            else:  # a full disk, for one: SQLite has taken all of it back
                self._batch = None
                batch.set_exception(error)
            raise
        db.conn.execute("RELEASE part")

    def _commit(self, batch: Future[None]) -> None:
        assert self._db is not None
        conn, self._batch = self._db.conn, None
        try:
            conn.execute("COMMIT")
        except BaseException as error:
            if conn.in_transaction:
                conn.execute("ROLLBACK")
            batch.set_exception(error)
        else:
            batch.set_result(None)
