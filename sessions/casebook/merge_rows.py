"""What another casebook holds that this one does not, and what of it contradicts what is here. It writes nothing.

The same row in both is one row: rows are compared by identifier and content, without their places in the chains.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from . import named_rows, origins, schema
from .contradictions import ONE_GOES_ON, WHICH_WAS_EDITED, Contradiction
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


def conflicts(here: Casebook, other: Casebook, new: Theirs) -> list[Contradiction]:
    """Why the two cannot be put together; none where they can."""
    return [
        *_other_content(here, other),
        *(Contradiction(said, ONE_GOES_ON) for said in _same_place(here, other, new)),
        *(Contradiction(said, ONE_GOES_ON) for said in _over_there(here, other, new)),
        *(Contradiction(said, ONE_GOES_ON) for said in _listened_twice(here, other, new)),
    ]


def _other_content(here: Casebook, other: Casebook) -> Iterator[Contradiction]:
    both = (here, other)
    for part in schema.PROTECTED:
        mine = {row["id"]: row for row in here.query(f"SELECT * FROM {part}")}
        for row in other.query(f"SELECT * FROM {part}"):
            own = mine.get(row["id"])
            if own is None or _content(part, own) == _content(part, row):
                continue
            values = named_rows.differing(both, part, _content(part, own), _content(part, row))
            yield Contradiction(
                f"{named_rows.told(both, part, own)} says something else in each, so that one was edited: {values}",
                WHICH_WAS_EDITED,
            )


def _content(part: str, row: Row) -> Row:
    left = (*LINK, "name") if part == "plans" else LINK  # a plan that was brought in may be called otherwise here
    return {column: value for column, value in row.items() if column not in left}


def _same_place(here: Casebook, other: Casebook, new: Theirs) -> Iterator[str]:
    """New rows in a place that a row here has already: two answers to one trial, two openings of one plan."""
    both = (here, other)
    for part in dict.fromkeys(table for table, _ in new.rows):
        for columns in _unique(here, part):
            if columns in (("id",), ("seq",), ("hash",), ("name",)):
                continue
            taken = {tuple(row[one] for one in columns): row for row in here.query(f"SELECT * FROM {part}")}
            for row in (row for table, row in new.rows if table == part):
                own = taken.get(tuple(row[column] for column in columns))
                if own is not None:
                    left = (*LINK, "id")
                    mine, theirs = ({name: one[name] for name in one if name not in left} for one in (own, row))
                    yield (
                        f"{named_rows.told(both, part, own)} is in both, each with a row of its own: "
                        f"{named_rows.differing(both, part, mine, theirs) or 'equal in all it says'}"
                    )


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
        if more := their.get(plan, set()) - mine.get(plan, set()):
            went_on = _went_on(other, plan, more)
            yield f"plan {names[plan]} is over here, so that its keys are told, and went on there: {went_on}"
    for plan in {row["plan_id"] for part, row in new.rows if part in OVER} & set(names):
        if more := mine.get(plan, set()) - their.get(plan, set()):
            went_on = _went_on(here, plan, more)
            yield f"plan {names[plan]} is over there, so that its keys are told, and went on here: {went_on}"


def _went_on(casebook: Casebook, plan: str, trials: set[str]) -> str:
    """Whose trials of a plan those are, and how many of each."""
    rows = casebook.query(
        """SELECT name, trials.id FROM trials JOIN sessions ON sessions.id = session_id
           JOIN listeners ON listeners.id = listener_id WHERE plan_id = ?""",
        [plan],
    )
    count = Counter(row["name"] for row in rows if row["id"] in trials)
    return ", ".join(f"{name} with {number} trials" for name, number in count.items())


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


def _listened_twice(here: Casebook, other: Casebook, new: Theirs) -> Iterator[str]:
    """Listeners with a session that counts in each of them, of one plan."""
    both = (here, other)
    counting = "SELECT * FROM sessions WHERE rehearsal IS NULL AND plan_id IS NOT NULL"
    taken = {(row["plan_id"], row["listener_id"]): row for row in here.query(counting)}
    for part, row in new.rows:
        own = taken.get((row["plan_id"], row["listener_id"])) if part == "sessions" and not row["rehearsal"] else None
        if own is not None:
            yield (
                f"{named_rows.name(both, 'listeners', row['listener_id'])} has a session of plan "
                f"{named_rows.name(both, 'plans', row['plan_id'])} in both: here begun {own['at']}, there {row['at']}"
            )
