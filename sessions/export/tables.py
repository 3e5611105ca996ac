"""The tables of a casebook as they leave it: columns with their meanings, rows without what is still sealed.

A trial that counts has its key only once its plan is over, whatever a casebook of before holds in its row; secrets of
plans under way stand in no table that leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from ..casebook import dictionary, schema
from ..casebook.store import Casebook
from . import judged_trials

STORED = (*schema.PROTECTED, *schema.MARKED, "drafts", "left_out", "origin_links", "brought_in")
TYPES = {"TEXT": "text", "INTEGER": "whole number", "REAL": "number"}
NO_KEY = "null"
TRIALS = f"""SELECT trials.id, trials.seq, trials.prior, trials.hash, trials.at, session_id, trial, offer, passage_id,
    iif(rehearsal IS NULL AND NOT EXISTS (SELECT 1 FROM openings WHERE openings.plan_id = sessions.plan_id),
        '{NO_KEY}', key) AS key FROM trials JOIN sessions ON sessions.id = session_id"""
"""Trials without the keys that nobody may see yet."""


@dataclass(frozen=True)
class Column:
    """A column: its name, its type (text, whole number or number), its unit (or none) and what it means."""

    name: str
    type: str
    unit: str
    meaning: str


@dataclass(frozen=True)
class Table:
    """A table that leaves; `rows` gives its rows anew each time it is asked."""

    name: str
    columns: tuple[Column, ...]
    rows: Callable[[], Iterable[Sequence[Any]]]


def every(casebook: Casebook) -> list[Table]:
    """All tables of a casebook that leave it, by name; last the trials of plans that are over, each with its score."""
    stored = [_stored(casebook, name) for name in sorted(STORED)]
    return [*stored, Table(judged_trials.NAME, judged_columns(), partial(judged_trials.values, casebook))]


def dictionary_rows(tables: Iterable[Table]) -> Iterator[tuple[str, ...]]:
    """The data dictionary of tables: table, column, type, unit, meaning."""
    for table in tables:
        for column in table.columns:
            yield table.name, column.name, column.type, column.unit, column.meaning


def _stored(casebook: Casebook, name: str) -> Table:
    made = [
        (row["name"], TYPES[row["type"]])
        for row in casebook.query("SELECT name, type FROM pragma_table_info(?)", [name])
    ]
    said = [dictionary.entry(name, column) for column, _ in made]
    columns = tuple(Column(*one, entry.unit, entry.meaning) for one, entry in zip(made, said, strict=True))
    from_ = f"({TRIALS})" if name == "trials" else name
    order = "seq" if name in schema.PROTECTED else "rowid"
    sql = f"SELECT {', '.join(column.name for column in columns)} FROM {from_} ORDER BY {order}"
    return Table(name, columns, lambda: casebook.db.execute(sql))


def judged_columns() -> tuple[Column, ...]:
    """The columns of judged trials."""
    return tuple(Column(*one) for one in judged_trials.COLUMNS)
