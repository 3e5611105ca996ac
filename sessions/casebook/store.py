"""The casebook on disk: one SQLite file, opened, guarded and written in short transactions.

It knows tables and the chain, and nothing of what plans or words mean.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from shlex import quote
from typing import Any

from ..errors import CasebookError
from . import catalogue_marks, database, hash_chain, private_files, schema, secret_files
from .database import Database
from .group_commit import GroupCommit
from .ids import new_id

FILE_NAME = "casebook.db"
PREPARED = "prepared"
COPY = "casebook-before-"  # then what came after it, and when
LOCKS = ".locks"  # of `listening.session_lock`

logger = logging.getLogger(__name__)

Row = dict[str, Any]


@dataclass(frozen=True)
class NewRow:
    """A protected row that is not written yet: its table, its identifier and its own columns."""

    table: str
    id: str
    content: Mapping[str, Any]


def new_row(table: str, prefix: str, content: Mapping[str, Any]) -> NewRow:
    """A row to append, under a fresh identifier."""
    return NewRow(table, new_id(prefix), content)


def utc_now() -> datetime:
    """The time now, in UTC."""
    return datetime.now(UTC)


def stored_time(moment: datetime) -> str:
    """A moment as casebooks write it, which sorts as text: UTC, ISO 8601, milliseconds."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Casebook:
    """An open casebook. Made by `create` or `open_casebook`; a context manager that closes it."""

    def __init__(self, folder: Path, db: Database, clock: Callable[[], datetime]) -> None:
        self.folder = folder
        self.file = folder / FILE_NAME  # of the database
        self.db = db
        self._clock = clock
        self._busy_timeout_ms = database.BUSY_TIMEOUT_MS
        self._group: GroupCommit | None = None  # with whom it writes in one transaction

    def __enter__(self) -> Casebook:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self.db.conn.close()

    def set_busy_timeout(self, milliseconds: int) -> None:
        """Wait so long for other programs before a call ends with `CasebookBusy`."""
        self.db.conn.execute(f"PRAGMA busy_timeout = {milliseconds}")
        self._busy_timeout_ms = milliseconds

    @contextmanager
    def together(self, group: GroupCommit) -> Iterator[None]:
        """Read and write through the connection of a group of this program's threads, in their common transactions."""
        with group.joined(self.file):
            self._group = group
            try:
                yield
            finally:
                self._group = None

    @contextmanager
    def _at_group(self, group: GroupCommit, *, writes: bool) -> Iterator[None]:
        """A part of the group's transaction; whatever is nested in it belongs to it."""
        own = self.db
        with group.part(self._busy_timeout_ms, writes=writes) as shared:
            self.db, self._group = shared, None
            try:
                yield
            finally:
                self.db, self._group = own, group

    @property
    def prepared(self) -> Path:
        """The folder of prepared audio; made on first use, rebuilt at will."""
        folder = self.folder / PREPARED
        try:
            private_files.make_folder(folder)
        except OSError as error:
            raise CasebookError(
                f"cannot make {folder}: {error.strerror}; check the disk and its permissions"
            ) from error
        return folder

    def now(self) -> str:
        """The time now as stored: UTC, ISO 8601, milliseconds."""
        return stored_time(self._clock())

    def check_writable(self) -> None:
        """Nothing, if this may be written to; asked by whoever must do something else before the first row.

        Raises
        ------
        CasebookError
            If the file is read-only.
        """
        if self.is_read_only:
            raise CasebookError(database.read_only(self.file))

    @property
    def is_read_only(self) -> bool:
        """Whether the file cannot be written."""
        return not os.access(self.file, os.W_OK)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One write transaction; nested uses join the outer one. Everything in it is on disk when it ends, or nothing.

        Raises
        ------
        CasebookBusy
            If another program writes all the time that is waited; nothing was written, and it may be tried again.
        CasebookError
            If the disk is full or read-only, or a guard refuses.
        """
        if self.db.conn.in_transaction:
            yield
            return
        if self._group is not None:
            with database.translated(self.file), self._at_group(self._group, writes=True):
                yield
            return
        with database.translated(self.file):
            self.db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.db.conn.execute("COMMIT")
            except BaseException:
                if self.db.conn.in_transaction:
                    self.db.conn.execute("ROLLBACK")
                raise

    def insert(self, table: str, row: Mapping[str, Any]) -> None:
        """Write one row that is no link of the chain; an entry of the catalogue with the link that holds it."""
        with self.writing():
            if table in schema.MARKED:
                self.mark_older_entries()
            places = ", ".join(f":{column}" for column in row)
            self.db.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({places})", row)
            if table in schema.MARKED:
                self.mark(table, str(row[schema.MARKED[table]]), "added")

    def mark_older_entries(self) -> None:
        """Take what a casebook of before the marks has in its catalogue into the chain, once, as it is found."""
        if self.query("SELECT 1 FROM catalogue_marks LIMIT 1"):
            return
        for part, key in schema.MARKED.items():
            for row in self.query(f"SELECT {key} AS entry FROM {part} ORDER BY rowid"):
                self.mark(part, row["entry"], "found")

    def mark(self, part: str, entry: str, what: str) -> None:
        """Write the link that holds an entry of the catalogue as it stands now; see `catalogue_changes`."""
        row = self.query(f"SELECT * FROM {part} WHERE {schema.MARKED[part]} = ?", [entry])[0]
        content = {"part": part, "entry": entry, "what": what, "document": catalogue_marks.text(row)}
        self.append("catalogue_marks", "entry", content)

    def append(self, table: str, prefix: str, content: Mapping[str, Any], *, row_id: str | None = None) -> Row:
        """Write one protected row as the next link of the chain, and give it back whole."""
        return self.append_many([NewRow(table, row_id or new_id(prefix), content)])[0]

    def append_many(self, rows: Iterable[NewRow]) -> list[Row]:
        """Write protected rows as the next links of the chain, in their order, and give them back whole.

        All of them are on disk when it returns, or none.
        """
        given, links = list(rows), list[Row]()
        with self.writing():
            end = self.db.execute("SELECT head_seq, head_hash FROM casebook").fetchone()
            seq, prior = end or (self.head()["head_seq"], "")  # where someone deleted it, that is said
            for new in given:
                seq += 1
                link: Row = {"id": new.id, "seq": seq, "prior": prior, "at": self.now(), **new.content}
                link["hash"] = prior = hash_chain.row_hash(new.table, link)
                links.append(link)
            pairs = zip(given, links, strict=True)
            for (table, columns), run in groupby(pairs, lambda pair: (pair[0].table, tuple(pair[1]))):
                places = ", ".join(f":{column}" for column in columns)
                sql = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({places})"
                self.db.conn.executemany(sql, [link for _, link in run])
            self.db.conn.execute("UPDATE casebook SET head_seq = ?, head_hash = ?", [seq, prior])
        return links

    def query(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] = ()) -> list[Row]:
        """The rows of a SELECT."""
        if self._group is not None:
            with database.translated(self.file), self._at_group(self._group, writes=False):
                return self.query(sql, parameters)
        with database.translated(self.file):
            cursor = self.db.conn.execute(sql, parameters)
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, values, strict=True)) for values in cursor.fetchall()]

    def clear_secrets(self, plan_ids: Iterable[str]) -> None:
        """Take plans' secrets out of their table, and leave nothing of them in the file's freed places."""
        with database.translated(self.file):
            self.db.conn.execute("PRAGMA secure_delete = ON")
            with self.writing():
                self.db.conn.executemany("DELETE FROM secrets WHERE plan_id = ?", [[one] for one in plan_ids])
            self.db.conn.execute("PRAGMA secure_delete = OFF")

    def delete_draft(self, name: str) -> None:
        """Take a draft off the table (drafts are not records)."""
        with self.writing():
            self.db.execute("DELETE FROM drafts WHERE name = ?", [name])

    def head(self) -> Row:
        """The casebook's own row: its id, and the chain's stated end.

        Raises
        ------
        CasebookError
            If someone deleted it.
        """
        rows = self.query("SELECT * FROM casebook")
        if not rows:
            raise CasebookError(f"the casebook's own row is missing in {self.file}; use a backup copy")
        return rows[0]

    def snapshot(self) -> Casebook:
        """A copy in memory of the whole casebook as it stands now; reading it keeps nobody waiting.

        Raises
        ------
        CasebookBusy
            If another program keeps the file locked.
        """
        copy = database.in_memory()
        with database.translated(self.file):
            self.db.conn.execute("BEGIN")
            try:
                # the lock is asked for here, where waiting ends; a backup would wait for it without end
                self.db.conn.execute("SELECT count(*) FROM sqlite_master").fetchone()
                self.db.conn.backup(copy.conn)
            finally:
                self.db.conn.execute("COMMIT")
        return Casebook(self.folder, copy, self._clock)

    def keep_copy(self, before: str) -> Path:
        """A copy of the tables as they stand now, beside them: before an upgrade, before a merge."""
        copy = self.folder / f"{COPY}{before}-{self.now().replace(':', '').replace('.', '')}.db"
        with self.snapshot() as now:
            database.write_to(now.db, copy)
        return copy


def create(folder: Path, clock: Callable[[], datetime] = utc_now) -> Casebook:
    """A new, empty casebook in `folder` (made if need be).

    Raises
    ------
    CasebookError
        If there is one already, or the folder cannot be written.
    """
    if (folder / FILE_NAME).exists():
        raise CasebookError(f"there is a casebook in {folder} already; use it, or name another folder")
    try:
        private_files.make_folder(folder, parents=True)
        private_files.make_file(folder / FILE_NAME)
    except OSError as error:
        raise CasebookError(f"cannot make the casebook in {folder}: {error.strerror}") from error
    from importlib.metadata import version

    with database.translated(folder / FILE_NAME):
        casebook = Casebook(folder, database.connect(folder / FILE_NAME, new=True), clock)
        database.make_tables(casebook.db)
        casebook.insert(
            "casebook",
            {
                "id": new_id("casebook"),
                "made_at": casebook.now(),
                "made_by": f"earwitness {version('earwitness')}",
                "head_seq": 0,
                "head_hash": hash_chain.START,
            },
        )
    casebook.prepared  # noqa: B018 - make the folder now, so that a new casebook is complete
    return casebook


def open_casebook(folder: Path, clock: Callable[[], datetime] = utc_now) -> Casebook:
    """The casebook in `folder`, upgraded if it is from an older version (after a backup copy).

    What others of this machine could read of it they can no longer, where its owner opens it and the file system knows
    owners. One that is read-only is read as if it were upgraded.

    Raises
    ------
    CasebookError
        If there is none, it is from a newer version, damaged, or cannot be read.
    """
    if not (folder / FILE_NAME).is_file():
        raise CasebookError(
            f"no casebook in {folder} (no {FILE_NAME} there); start one: earwitness new {quote(str(folder))}"
        )
    with database.translated(folder / FILE_NAME):
        casebook = Casebook(folder, database.connect(folder / FILE_NAME), clock)
        try:
            if not os.access(folder / FILE_NAME, os.W_OK):
                return _upgraded_in_memory(casebook)
            private_files.tighten(_private_places(folder))
            _upgrade(casebook)
            _move_secrets(casebook)
        except BaseException:
            casebook.close()
            raise
    return casebook


def _private_places(folder: Path) -> Iterator[Path]:
    """What of a casebook's folder is for its owner alone. The folder itself may be anybody's: a home, a drive."""
    yield folder / FILE_NAME
    yield from folder.glob(f"{COPY}*.db")
    yield from (folder / name for name in (PREPARED, LOCKS, secret_files.FOLDER) if (folder / name).exists())
    yield from (folder / secret_files.FOLDER).glob("*")


def _upgraded_in_memory(casebook: Casebook) -> Casebook:
    """A read-only casebook: itself, or where it is from an older version a copy in memory that is upgraded."""
    if not database.is_older(casebook.db, casebook.file):
        return casebook
    copy = casebook.snapshot()
    casebook.close()
    database.make_tables(copy.db)
    copy.db.conn.execute("PRAGMA query_only = ON")
    return copy


def _move_secrets(casebook: Casebook) -> None:
    """Take secrets out of the table into files of their own; where that cannot be done now, they stay and are found.

    A good file is never written over: then the row is nothing of ours, and `verify` tells it.
    """
    moved = {}
    for row in casebook.query("SELECT plan_id, secret FROM secrets"):
        secret = secret_files.from_text(row["secret"])
        if secret and (secret_files.read(casebook.folder, row["plan_id"]) or secret) == secret:
            moved[row["plan_id"]] = secret
    if not moved:
        return
    try:
        secret_files.keep(casebook.folder, moved)
        casebook.clear_secrets(moved)
    except CasebookError:
        logger.warning("the secrets stay in the casebook's table for now", exc_info=True)


def _upgrade(casebook: Casebook) -> None:
    if database.is_older(casebook.db, casebook.file):
        casebook.keep_copy("upgrade")
        database.make_tables(casebook.db)
