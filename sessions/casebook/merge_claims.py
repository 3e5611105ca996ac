"""Claims of another casebook beside this one's: those that were changed in both, and what was brought in, by number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from . import named_rows
from .contradictions import SAME_CLAIM, Contradiction
from .merge_rows import Theirs
from .store import Casebook, Row


def conflicts(here: Casebook, other: Casebook, new: Theirs) -> Iterator[Contradiction]:
    """Claims that were changed or taken back in both since they parted, and stand otherwise in each."""
    known = {row["id"] for row in other.query("SELECT id FROM claims")}
    mine, their = _rows(here), _rows(other)
    parted = {row["corrects"]: row for row in mine if row["corrects"] and row["id"] not in known}
    for part, row in new.rows:
        own = parted.get(row["corrects"]) if part == "claims" else None
        if own is None:
            continue
        one, two = _newest(mine, own), _newest(their, row)
        if _stands_as(one) != _stands_as(two):
            number = _numbers(mine)[own["id"]]
            values = named_rows.differing((here, other), "claims", _content(one), _content(two))
            yield Contradiction(f"claim {number} was changed in both, otherwise in each: {values}", SAME_CLAIM)


def brought(here: Casebook, new: Theirs) -> list[str]:
    """What of claims was brought in, as it stands here now: each by its number here, once."""
    every, brought_in = _rows(here), {row["id"] for part, row in new.rows if part == "claims"}
    numbers, came = _numbers(every), [row for row in every if row["id"] in brought_in]
    fresh = {numbers[row["id"]] for row in came if row["corrects"] is None}
    found: dict[int, str] = {}
    for row in came:
        number = numbers[row["id"]]
        says = f'{"is new and" if number in fresh else "now"} says "{row["text"]}"'
        stands = says if row["text"] else f"was taken back: {row['why']}"
        found[number] = f"claim {number} {stands}"
    return list(found.values())


def _rows(casebook: Casebook) -> list[Row]:
    return casebook.query("SELECT id, text, document, why, corrects FROM claims ORDER BY seq")


def _numbers(rows: Iterable[Row]) -> dict[str, int]:
    """The place of each row's claim among all claims, from 1."""
    found: dict[str, int] = {}
    for row in rows:
        found[row["id"]] = found.get(row["corrects"]) or len(set(found.values())) + 1
    return found


def _newest(rows: Iterable[Row], since: Row) -> Row:
    """As a claim stands that was changed to a row."""
    newest = since
    for row in rows:
        newest = row if row["corrects"] == newest["id"] else newest
    return newest


def _content(row: Row) -> Row:
    return {column: row[column] for column in ("text", "document", "why")}


def _stands_as(row: Row) -> tuple[str, str]:
    """What makes a claim the same in both: its sentence and evidence; nothing more of one that was taken back."""
    return (row["text"], row["document"]) if row["text"] else ("", "")
