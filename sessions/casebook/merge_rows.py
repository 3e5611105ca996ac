"""What another casebook holds that this one does not, and what of it contradicts what is here. It writes nothing.

The same row in both is one row: rows are compared by identifier and content, without their places in the chains.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from . import origins, schema
from .origins import OriginLink
from .store import Casebook, Row

LINK = ("seq", "prior", "hash")
OVER = ("openings", "given_up")


@dataclass(frozen=True)
class Theirs:
    """What is new in another casebook.

    Attributes
    ----------
    rows
        Protected rows with their tables, in the order of its chain.
    links
        Links of its chain, and of those it holds, which are not known here.
    first
        For each of `rows`, the hash that it had where it was written first.
    head
        The place and hash of its chain's end; None where that is known here already.
    """

    casebook: str
    rows: tuple[tuple[str, Row], ...]
    links: tuple[OriginLink, ...]
    first: tuple[str, ...]
    head: tuple[int, str] | None

    @property
    def anything(self) -> bool:
        """Whether there is anything to bring in."""
        return bool(self.rows or self.head)


def theirs(here: Casebook, other: Casebook) -> Theirs:
    """What is new in another casebook."""
    rows = list[tuple[str, Row]]()
    for part in schema.PROTECTED:
        known = {row["id"] for row in here.query(f"SELECT id FROM {part}")}
        rows += [(part, row) for row in other.query(f"SELECT * FROM {part}") if row["id"] not in known]
    rows.sort(key=lambda pair: int(pair[1]["seq"]))
    named = {part: origins.named_hashes(other, part) for part in schema.PROTECTED}
    first = [str(named[part].get(row["id"], row["hash"])) for part, row in rows]
    known = {row["hash"] for row in here.query("SELECT hash FROM chain_links UNION SELECT hash FROM origin_links")}
    links = [link for digest, link in origins.every_link(other).items() if digest not in known]
    own = other.head()
    head = None if own["head_hash"] in known or not own["head_seq"] else (own["head_seq"], own["head_hash"])
    return Theirs(own["id"], tuple(rows), tuple(links), tuple(first), head)


def conflicts(here: Casebook, other: Casebook, new: Theirs) -> list[str]:
    """Why the two cannot be put together, a sentence each; none where they can."""
    return [
        *_other_content(here, other),
        *_same_place(here, new),
        *_over_there(here, other, new),
        *_listened_twice(here, new),
    ]


def _other_content(here: Casebook, other: Casebook) -> Iterator[str]:
    for part in schema.PROTECTED:
        mine = {row["id"]: _content(part, row) for row in here.query(f"SELECT * FROM {part}")}
        for row in other.query(f"SELECT * FROM {part}"):
            if row["id"] in mine and mine[row["id"]] != _content(part, row):
                yield f"{part} {row['id']} says something else in each of them: one was edited"


def _content(part: str, row: Row) -> Row:
    left = (*LINK, "name") if part == "plans" else LINK  # a plan that was brought in may be called otherwise here
    return {column: value for column, value in row.items() if column not in left}


def _same_place(here: Casebook, new: Theirs) -> Iterator[str]:
    """New rows in a place that a row here has already: two answers to one trial, two openings of one plan."""
    for part in schema.PROTECTED:
        for columns in _unique(here, part):
            if columns in (("id",), ("seq",), ("hash",), ("name",)):
                continue
            taken = {tuple(row.values()) for row in here.query(f"SELECT {', '.join(columns)} FROM {part}")}
            for row in (row for table, row in new.rows if table == part):
                place = tuple(row[column] for column in columns)
                if place in taken:
                    stated = ", ".join(f"{name} {value}" for name, value in zip(columns, place, strict=True))
                    yield f"{part} with {stated} is in both, each with a row of its own"


def _unique(casebook: Casebook, part: str) -> list[tuple[str, ...]]:
    indexes = casebook.query('SELECT name FROM pragma_index_list(?) WHERE "unique"', [part])
    return [
        tuple(row["name"] for row in casebook.query("SELECT name FROM pragma_index_info(?)", [index["name"]]))
        for index in indexes
    ]


def _over_there(here: Casebook, other: Casebook, new: Theirs) -> Iterator[str]:
    """Plans that were over in one of them, whose keys were told, and went on in the other."""
    names = {row["id"]: row["name"] for row in here.query("SELECT id, name FROM plans")}
    mine, their = _trials_that_count(here), _trials_that_count(other)
    for plan in _over(here):
        if not their.get(plan, set()) <= mine.get(plan, set()):
            yield f"the plan {names[plan]} is over here, so that its keys are told, and went on there"
    for plan in {row["plan_id"] for part, row in new.rows if part in OVER} & set(names):
        if not mine.get(plan, set()) <= their.get(plan, set()):
            yield f"the plan {names[plan]} is over there, so that its keys are told, and went on here"


def _over(casebook: Casebook) -> list[str]:
    rows = casebook.query(" UNION ".join(f"SELECT plan_id FROM {part}" for part in OVER))
    return [row["plan_id"] for row in rows]


def _trials_that_count(casebook: Casebook) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for row in casebook.query(
        """SELECT plan_id, trials.id FROM trials JOIN sessions ON sessions.id = session_id
           WHERE rehearsal IS NULL AND plan_id IS NOT NULL"""
    ):
        found.setdefault(row["plan_id"], set()).add(row["id"])
    return found


def _listened_twice(here: Casebook, new: Theirs) -> Iterator[str]:
    """Listeners with a session that counts in each of them, of one plan."""
    counting = "SELECT plan_id, listener_id FROM sessions WHERE rehearsal IS NULL AND plan_id IS NOT NULL"
    taken = {tuple(row.values()) for row in here.query(counting)}
    for part, row in new.rows:
        if part == "sessions" and row["rehearsal"] is None and (row["plan_id"], row["listener_id"]) in taken:
            yield f"the listener {row['listener_id']} has a session of the plan {row['plan_id']} in both"
