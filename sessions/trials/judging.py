"""Verdicts of a casebook: its plans' records, judged together with the check of the casebook itself."""

from __future__ import annotations

from ..casebook.store import Casebook, Row
from . import planning, verify
from .record import record
from .verdict import Verdict, judge


def plans(casebook: Casebook, name: str | None) -> list[Row]:
    """The sealed plan of that name, or all of them."""
    if name is not None:
        return [planning.sealed_row(casebook, name)]
    return casebook.query("SELECT * FROM plans ORDER BY seq")


def verdicts(casebook: Casebook, name: str | None, *, rehearsals: bool = False) -> list[Verdict]:
    """The verdict of each plan asked for; void wherever the casebook's record does not hold."""
    broken = verify.verify(casebook).broken
    return [
        judge(record(casebook, row, rehearsals=rehearsals), broken=broken)
        for row in plans(casebook, name)
        if not rehearsals or _rehearsed(casebook, row)
    ]


def _rehearsed(casebook: Casebook, row: Row) -> bool:
    sql = "SELECT 1 FROM sessions WHERE plan_id = ? AND rehearsal IS NOT NULL"
    return bool(casebook.query(sql, [row["id"]]))
