"""What tests do to a casebook on disk: hold it as another program would, and recompute its chain."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sessions.casebook import hash_chain, schema, secret_files
from sessions.casebook.store import FILE_NAME, Casebook, Row
from sessions.plans import seals
from sessions.results import review
from sessions.results.verdict import Verdict


def chained_rows(casebook: Casebook) -> Iterator[tuple[str, Row]]:
    """Every protected row with its table's name, in order of the chain."""
    rows = [(table, row) for table in schema.PROTECTED for row in casebook.query(f"SELECT * FROM {table}")]
    yield from sorted(rows, key=lambda pair: (pair[1]["seq"], pair[0]))


def chain_holds(casebook: Casebook) -> bool:
    """Whether no row was lost, changed or put in between."""
    head = casebook.head()
    return not hash_chain.breaks(chained_rows(casebook), head["head_seq"], head["head_hash"])


def secret_file(casebook: Casebook, plan: str = "evening") -> Path:
    """Where the secret of a plan is kept."""
    return secret_files.path_of(casebook.folder, seals.sealed_plan(casebook, plan).plan.id)


def secret_of(casebook: Casebook, plan: str = "evening") -> bytes:
    """The secret of a plan, as it stands in its file."""
    return bytes.fromhex(secret_file(casebook, plan).read_text(encoding="ascii"))


@contextmanager
def held(folder: Path, how: str = "IMMEDIATE") -> Iterator[None]:
    """Another program at the casebook: it writes (IMMEDIATE), locks it whole (EXCLUSIVE) or reads (DEFERRED)."""
    other = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
    other.execute(f"BEGIN {how}")
    other.execute("SELECT count(*) FROM trials").fetchone()
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


def judged(casebook: Casebook, name: str, *, rehearsals: bool = False) -> Verdict:
    """The verdict on a plan (or on its newest rehearsal), as the review of its casebook has it."""
    plan_id = seals.sealed_plan(casebook, name).plan.id
    reviewed = review.review(casebook, rehearsals=rehearsals).plans
    own = next(one for one in reviewed if one.sealed.plan.id == plan_id)
    if not rehearsals:
        return own.verdict
    assert own.rehearsal is not None
    return own.rehearsal


def rewritten(casebook: Casebook, *statements: str) -> None:
    """What whoever holds a casebook can do to it: change what they like, and recompute the chain so that it holds.

    The rows close up where some were taken out; their guards are put back as they were.
    """
    connection = casebook.db.conn
    guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    connection.execute("PRAGMA foreign_keys = OFF")
    with connection:
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        prior, seq = hash_chain.START, 0
        for table, row in list(chained_rows(casebook)):
            seq += 1
            link = {**row, "seq": seq, "prior": prior}
            prior = hash_chain.row_hash(table, link)
            values = (seq, link["prior"], prior, row["id"])
            connection.execute(f"UPDATE {table} SET seq = ?, prior = ?, hash = ? WHERE id = ?", values)
        connection.execute("UPDATE casebook SET head_seq = ?, head_hash = ?", (seq, prior))
        for _, sql in guards:
            connection.execute(sql)
    connection.execute("PRAGMA foreign_keys = ON")
