"""The hash chain over the protected rows. Pure: rows in, hashes and findings out; no database here.

Every protected row carries ``seq`` (its place in the one chain of the casebook), ``prior`` (the hash of the row before
it) and ``hash`` = sha256(prior + canonical JSON of the row without ``hash``, with its table's name).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False)
START = "0" * 64  # what the first row of a casebook names as the hash before it


@dataclass(frozen=True)
class Break:
    """One place where the chain does not hold, said in words."""

    seq: int
    table: str
    row_id: str
    what: str


def canonical(value: Any) -> str:
    """The one JSON text of a value: keys sorted, no spaces, UTF-8 unescaped.

    >>> canonical({"b": 1, "a": "é"})
    '{"a":"é","b":1}'
    """
    return _CANONICAL.encode(value)


def row_hash(table: str, row: Mapping[str, Any]) -> str:
    """The hash that belongs into a protected row (whose ``seq`` and ``prior`` are set)."""
    content = {key: value for key, value in row.items() if key != "hash"} | {"table": table}
    return hashlib.sha256((str(row["prior"]) + canonical(content)).encode()).hexdigest()


def breaks(rows: Iterable[tuple[str, Mapping[str, Any]]], head_seq: int, head_hash: str) -> list[Break]:
    """Every place where the chain does not hold.

    Parameters
    ----------
    rows
        (table, row) of every protected row, in order of ``seq``.
    head_seq, head_hash
        The chain's last place and hash, as the casebook (or a published report) states them; 0 and `START` when empty.
    """
    found: list[Break] = []
    prior, expected = START, 1
    for table, row in rows:
        seq, row_id = int(row["seq"]), str(row["id"])
        if seq != expected:
            missing = f"row {expected} is" if seq == expected + 1 else f"rows {expected} to {seq - 1} are"
            found.append(Break(seq, table, row_id, f"{missing} missing before it"))
        elif row["prior"] != prior:
            found.append(Break(seq, table, row_id, "does not follow the row before it (reordered or inserted)"))
        if not _fits(table, row):
            found.append(Break(seq, table, row_id, "its content does not give its hash (edited)"))
        prior, expected = str(row["hash"]), seq + 1
    if (expected - 1, prior) != (head_seq, head_hash):
        what = f"the chain ends at row {expected - 1}, but its stated end is row {head_seq}"
        if expected - 1 == head_seq:
            what = "the last row is not the one stated as the chain's end"
        found.append(Break(expected - 1, "casebook", "head", what))
    return found


def _fits(table: str, row: Mapping[str, Any]) -> bool:
    try:
        return row_hash(table, row) == str(row["hash"])
    except (TypeError, ValueError):  # bytes, or half a character: nothing that was ever written here
        return False
