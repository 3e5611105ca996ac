"""Changes of the catalogue: an entry written anew, or taken out, each with the link of the chain that says so.

It decides nothing: whether an entry may be changed, and what goes with it, is asked before (`plans.dependents`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from ..errors import CasebookError
from . import documents, schema
from .store import Casebook

ORPHANS = {"mends"}  # of a passage or a setup that was removed; they are rows of the record, and stay


def change(casebook: Casebook, table: str, entry: str, values: Mapping[str, Any]) -> None:
    """Write columns of an entry anew, and its mark with them."""
    columns = ", ".join(f"{column} = :{column}" for column in values)
    with casebook.writing():
        casebook.mark_older_entries()
        sql = f"UPDATE {table} SET {columns} WHERE {schema.MARKED[table]} = :entry_"
        casebook.db.execute(sql, {**values, "entry_": entry})
        casebook.mark(table, entry, "changed")


@contextmanager
def removing(casebook: Casebook) -> Iterator[None]:
    """One write transaction in which entries may be taken out with `remove`.

    Rows of the record that name one stay as they are: only mends may do so. Whatever else would be left without what
    it names ends the transaction, and nothing is changed.

    Raises
    ------
    CasebookError
        If another row still names what was taken out.
    """
    casebook.db.execute("PRAGMA foreign_keys = OFF")  # SQLite takes this outside of a transaction only
    try:
        with casebook.writing():
            before = _lost(casebook)
            yield
            named_by = {table for table, _ in _lost(casebook) - before} - ORPHANS
            if named_by:
                raise CasebookError(
                    f"rows of {', '.join(sorted(named_by))} in {casebook.file} name what would be removed; "
                    "nothing was changed"
                )
    finally:
        casebook.db.execute("PRAGMA foreign_keys = ON")


def remove(casebook: Casebook, table: str, entry: str) -> None:
    """Take an entry out, and keep in its mark what it was; only inside of `removing`."""
    casebook.mark_older_entries()
    casebook.mark(table, entry, "removed")
    casebook.db.execute(f"DELETE FROM {table} WHERE {schema.MARKED[table]} = ?", [entry])


def last_changes(casebook: Casebook, table: str) -> dict[str, int]:
    """The link of each entry of a table that was changed since it was added, by its identifier: the newest one."""
    rows = casebook.query(
        "SELECT entry, max(seq) AS seq FROM catalogue_marks WHERE part = ? AND what = 'changed' GROUP BY entry", [table]
    )
    return {row["entry"]: row["seq"] for row in rows}


def names_then(casebook: Casebook, table: str, seq: int) -> dict[str, str]:
    """What entries that were changed later were called when link `seq` of the chain was written, by identifier."""
    later = [entry for entry, changed in last_changes(casebook, table).items() if changed > seq]
    then = {}
    for entry in later:
        marks = casebook.query(
            "SELECT document FROM catalogue_marks WHERE part = ? AND entry = ? ORDER BY seq >= ?, abs(seq - ?) LIMIT 1",
            [table, entry, seq, seq],
        )
        then[entry] = str(documents.value_of(marks[0]["document"])["name"])
    return then


def _lost(casebook: Casebook) -> set[tuple[str, int]]:
    return {(row["table"], row["rowid"]) for row in casebook.query("PRAGMA foreign_key_check")}
