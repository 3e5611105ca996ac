"""What stands in a casebook's file, as far as it can be read, and what in it is not as the steps made it.

It reads a copy in memory (`Casebook.snapshot`), so that it can try what SQLite only tries on what it may write.

Tables, guards, views and indexes are compared, by their whole SQL, with what the steps of `schema` make of nothing.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from ..errors import CasebookError
from . import schema
from .database import MIGRATION_SET, STEPS_TABLE
from .store import Casebook, Row

SEARCH = "words_search"  # its inner tables are SQLite's own, in the words of its version
CATALOGUE = (*schema.MARKED, "secrets", "origin_links", "brought_in")  # and what else is no link of the chain
MOST_DAMAGES = 20  # told of a damaged file; there may be thousands
DEFINITIONS = """SELECT type, name, tbl_name, sql FROM sqlite_master
    WHERE name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY type, name"""  # sqlite_…: SQLite's own; nobody else may use it
OF_REMOVED = """SELECT 'mends' AS "table", part AS parent, mends.rowid AS rowid FROM mends JOIN catalogue_marks
    ON what = 'removed' AND ((part = 'setups' AND entry = setup_id) OR (part = 'passages' AND entry = passage_id))"""
"""The mends of what was removed since, as the chain says: they stay, and name what is no longer there."""

Definitions = Mapping[tuple[str, str], Mapping[str, Any]]


@dataclass(frozen=True)
class Inspected:
    """The rows of every table that can be read, by table, and what is wrong with the file, in words."""

    rows: Mapping[str, Sequence[Row]]
    faults: list[str]

    @property
    def own(self) -> Row | None:
        """The casebook's own row; None where there is none."""
        own = self.rows.get("casebook", ())
        return own[0] if own else None

    @cached_property
    def chained(self) -> list[tuple[str, Row]]:
        """Every protected row with its table's name, in order of the chain."""
        rows = [(table, row) for table in schema.PROTECTED for row in self.rows[table]]
        return sorted(rows, key=lambda pair: (pair[1]["seq"], pair[0]))

    @cached_property
    def placed(self) -> Mapping[int, tuple[str, Row]]:
        """The same by the row's place in the chain."""
        return {row["seq"]: (table, row) for table, row in self.chained}


def inspect(copy: Casebook) -> Inspected:
    """Read a copy of a casebook whole."""
    faults: list[str] = []
    rows: dict[str, list[Row]] = {}
    for table in (*schema.PROTECTED, *CATALOGUE):
        rows[table] = _asked(copy, f"SELECT * FROM {table}", f"the table {table} cannot be read", faults)
    for table in schema.PROTECTED:
        links = [row for row in rows[table] if _is_link(row)]
        if len(links) < len(rows[table]):
            faults.append(f"{len(rows[table]) - len(links)} rows of {table} are no links of the chain")
        rows[table] = links
    own = len(rows["casebook"])
    if own != 1:
        faults.append("the casebook's own row is missing" if own == 0 else f"the casebook has {own} rows of its own")
    stands = _asked(copy, DEFINITIONS, "the tables cannot be listed", faults)
    faults += _definition_faults(_made_by(schema.STEPS), {(row["type"], row["name"]): row for row in stands})
    faults += _step_faults(_asked(copy, f"SELECT * FROM {STEPS_TABLE}", "the steps cannot be read", faults))
    faults += _search_faults(copy, rows["words"])
    faults += _damages(copy)
    return Inspected(rows, faults)


def _asked(copy: Casebook, sql: str, otherwise: str, faults: list[str]) -> list[Row]:
    """The rows of a SELECT; none, and a fault, where the file does not give them."""
    try:
        return copy.query(sql)
    except CasebookError as error:
        faults.append(f"{otherwise}: {error}")
        return []


def _is_link(row: Row) -> bool:
    return isinstance(row.get("seq"), int) and all(isinstance(row.get(part), str) for part in ("id", "prior", "hash"))


@lru_cache
def _made_by(steps: tuple[tuple[str, str], ...]) -> Definitions:
    """What the steps make of an empty file."""
    with closing(sqlite3.connect(":memory:")) as empty:
        for _, sql in steps:
            empty.executescript(sql)
        rows = empty.execute(DEFINITIONS).fetchall()
    return {(row[0], row[1]): {"tbl_name": row[2], "sql": row[3]} for row in rows}


def _definition_faults(made: Definitions, stands: Definitions) -> Iterator[str]:
    for (kind, name), now in stands.items():
        if kind in ("table", "index") and now["tbl_name"] == STEPS_TABLE:
            continue
        then = made.get((kind, name))
        if then is None:
            what = "; it may copy or change what is written" if kind == "trigger" else ""
            on = "" if kind in ("table", "view") else f" on {now['tbl_name']}"
            yield f"the {kind} {name}{on} is none of earwitness's{what}"
        elif then["sql"] != now["sql"] and not name.startswith(f"{SEARCH}_"):
            yield f"{_called(kind, name)} was changed: it is not defined as earwitness defines it"
    for kind, name in made:
        if (kind, name) not in stands:
            yield f"{_called(kind, name)} was removed; rows may have been changed"


def _called(kind: str, name: str) -> str:
    return f"the guard {name}" if kind == "trigger" and "_keep_" in name else f"the {kind} {name}"


def _step_faults(rows: Sequence[Row]) -> Iterator[str]:
    applied: Counter[tuple[Any, Any]] = Counter((row.get("migration_set"), row.get("name")) for row in rows)
    known: Counter[tuple[Any, Any]] = Counter((MIGRATION_SET, name) for name, _ in schema.STEPS)
    for step in (known - applied).elements():
        yield f"the step {step[1]} is not noted as done"
    for step in (applied - known).elements():
        yield f"the step {step[1]} of {step[0]} is none of earwitness's"


def _search_faults(copy: Casebook, words: Sequence[Row]) -> list[str]:
    """Whether a search finds the words that were logged: what it holds, and its index."""
    faults: list[str] = []
    held = _asked(copy, f"SELECT word_id, term, note FROM {SEARCH}", "the search of words cannot be read", faults)
    wanted = Counter((row["id"], row.get("term"), row.get("note")) for row in words)
    if not faults and Counter((row["word_id"], row["term"], row["note"]) for row in held) != wanted:
        faults.append("the search of words does not hold the words that were logged")
    try:
        copy.db.conn.execute(f"INSERT INTO {SEARCH} ({SEARCH}) VALUES ('integrity-check')")
    except sqlite3.Error as error:
        faults.append(f"the search of words is damaged: {error}")
    return faults


def _damages(copy: Casebook) -> list[str]:
    """What SQLite itself finds: pages and indexes that do not fit, rows that name an entry that is not there."""
    faults: list[str] = []
    for row in _asked(copy, f"PRAGMA integrity_check ({MOST_DAMAGES})", "the file cannot be checked", faults):
        if row["integrity_check"] != "ok":
            faults.append(f"the file is damaged: {row['integrity_check']}")
    lost = _asked(copy, "PRAGMA foreign_key_check", "the entries that rows name cannot be looked up", faults)
    removed = (
        {(row["table"], row["parent"], row["rowid"]) for row in _asked(copy, OF_REMOVED, "", faults)} if lost else ()
    )
    for (table, parent), rows in Counter(
        (row["table"], row["parent"]) for row in lost if (row["table"], row["parent"], row["rowid"]) not in removed
    ).items():
        faults.append(f"rows of {table} that name an entry of {parent} which is not there: {rows}")
    return faults
