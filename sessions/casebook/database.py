"""The file behind a casebook: its connection, the numbered steps that make its tables, SQLite's errors in our words.

The only module that imports sqlite_utils, and only where tables are made: it takes longer to load than all else that a
light command needs. It knows nothing of rows.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import CasebookBusy, CasebookError, CasebookFull
from . import private_files, schema

MIGRATION_SET = "earwitness"
OLDEST_SQLITE = (3, 37, 0)  # STRICT tables
BUSY_TIMEOUT_MS = 5000
LEAST_FREE_BYTES = 64 * 1024  # of a disk; below it a journal may have no room
STEPS_TABLE = "_sqlite_migrations"  # sqlite-utils makes it, with an index, in the words of its version


@dataclass(frozen=True)
class Database:
    """An open file, or one in memory."""

    conn: sqlite3.Connection

    def execute(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] = ()) -> sqlite3.Cursor:
        """What SQLite says to a statement."""
        return self.conn.execute(sql, parameters)


def connect(file: Path, *, new: bool = False, read_only: bool = False, one_thread: bool = True) -> Database:
    """A connection to the file; read-only where it cannot or shall not be written.

    Parameters
    ----------
    one_thread
        Only the thread that opens it uses it; otherwise its users see to it that one at a time does.

    Raises
    ------
    CasebookError
        If Python's SQLite is too old.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise CasebookError(f"Python's SQLite is {sqlite3.sqlite_version}; 3.37 or newer is needed: use a newer Python")
    mode = "rwc" if new else "rw"
    if read_only or (not new and not os.access(file, os.W_OK)):
        mode = "ro"
    connection = sqlite3.connect(f"{file.absolute().as_uri()}?mode={mode}", uri=True, check_same_thread=one_thread)
    connection.execute("PRAGMA recursive_triggers = ON")  # a REPLACE meets the guard against deleting
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = EXTRA")  # the journal's removal is on disk too when COMMIT returns
    if mode != "ro":
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("SELECT count(*) FROM sqlite_master").fetchone()  # a file that is no database fails here
    return Database(connection)


def in_memory() -> Database:
    """An empty database that no file holds."""
    connection = sqlite3.connect(":memory:")
    connection.execute("PRAGMA recursive_triggers = ON")
    return Database(connection)


def write_to(db: Database, file: Path) -> None:
    """Write the whole of a database into a new file for its owner alone; give one in memory, and nobody waits for this.

    Raises
    ------
    CasebookError
        If the disk is full.
    OSError
        If the file is there already, or cannot be made.
    """
    private_files.make_file(file)
    with translated(file), closing(sqlite3.connect(file)) as target:
        db.conn.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")


def make_tables(db: Database) -> None:
    """Apply the steps that were not applied yet."""
    migrations = _sqlite_utils().Migrations(MIGRATION_SET)
    for name, sql in schema.STEPS:
        migrations(name=name)(_step(sql))
    migrations.apply(_sqlite_utils().Database(db.conn))


def is_older(db: Database, file: Path) -> bool:
    """Whether steps are to be applied yet.

    Raises
    ------
    CasebookError
        If it is no casebook, or one from a newer version.
    """
    known = {name for name, _ in schema.STEPS}
    applied = _applied(db)
    if not applied:
        raise CasebookError(f"{file} is not an earwitness casebook; name another folder")
    if applied - known:
        raise CasebookError(
            f"the casebook in {file.parent} was written by a newer earwitness (it knows {max(applied - known)}); "
            "install that version to open it"
        )
    return bool(known - applied)


def _applied(db: Database) -> set[str]:
    """The names of the steps that made this file; none if it has no table of them."""
    if not db.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", [STEPS_TABLE]).fetchall():
        return set()
    rows = db.execute(f"SELECT name FROM {STEPS_TABLE} WHERE migration_set = ?", [MIGRATION_SET])
    return {str(name) for (name,) in rows}


@contextmanager
def translated(file: Path) -> Iterator[None]:
    """SQLite's errors in our words, once."""
    try:
        yield
    except sqlite3.Error as error:
        text = str(error)
        if "locked" in text or "busy" in text:
            said = f"{file} is in use by another program; try again in a moment, a session may go on meanwhile"
            raise CasebookBusy(f"{said}; if it stays so, close what else has this file open") from error
        unwritable = "readonly" in text or "read-only" in text
        unreachable = "unable to open" in text or "disk I/O" in text
        if "full" in text or (unreachable and file.exists() and _is_full(file)):
            raise CasebookFull(
                f"the disk of {file} is full; nothing was half-written: free some space and try again"
            ) from error
        if (unwritable or unreachable) and not file.exists():
            reason = f"{file} is gone from there, moved or removed while it was in use; put it back and go on"
        elif unwritable:
            reason = read_only(file)
        elif unreachable:
            reason = f"cannot open or write {file} ({text}); check the disk and its permissions"
        elif "not a database" in text or "malformed" in text:
            reason = f"{file} is damaged or no casebook ({text}); use a backup copy"
        elif "append-only" in text:
            reason = f"{text} (in {file})"
        elif "UNIQUE" in text:
            reason = f"this is there already ({text}, in {file}); choose another name"
        else:
            reason = f"{file}: {text}"
        raise CasebookError(reason) from error


def _is_full(file: Path) -> bool:
    """Whether a disk has not even room for a journal, without which SQLite says that it cannot open something."""
    try:
        return shutil.disk_usage(file.parent).free < LEAST_FREE_BYTES
    except OSError:
        return False


def read_only(file: Path) -> str:
    """What to say of a casebook that cannot be written."""
    return f"{file} is read-only; nothing was written: make it writable or copy the casebook"


def _sqlite_utils() -> Any:
    """The library, without pandas and numpy, which it takes along where they are installed: ten times as slow to load.

    It would guess the types of new columns from theirs; all our columns are written out.
    """
    left_out = [name for name in ("pandas", "numpy") if "sqlite_utils" not in sys.modules and name not in sys.modules]
    sys.modules.update(dict.fromkeys(left_out))  # type: ignore[arg-type]  # None: not to be imported
    try:
        import sqlite_utils
    finally:
        for name in left_out:
            del sys.modules[name]
    return sqlite_utils


def _step(sql: str) -> Callable[[Any], None]:
    def apply(db: Any) -> None:
        for statement in _statements(sql):
            db.conn.execute(statement)

    return apply


def _statements(sql: str) -> Iterator[str]:
    """The single statements of a script; executescript would commit the migration's transaction."""
    gathered = ""
    for line in sql.splitlines(keepends=True):
        gathered += line
        if sqlite3.complete_statement(gathered):
            yield gathered
            gathered = ""
