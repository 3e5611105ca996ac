"""The catalogue of another casebook beside this one's: which entries are new, renamed, changed, or contradict.

An entry that another has under the same name is another thing there: both stay, the one brought in with a mark at its
name. One that both have (by identifier) is taken as whoever changed it has it; changed otherwise in each, it
contradicts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from . import catalogue_marks, named_rows, schema
from .contradictions import SAME_IN_BOTH, Contradiction
from .merge_rows import Theirs
from .store import Casebook, Row

PARTS = tuple(part for part in schema.MARKED if part != "casebook")
NAMED = ("setups", "tracks", "passages", "listeners", "drafts", "plans")
MARK_LENGTH = 4  # characters of the other casebook's identifier that a name gets where it is taken


@dataclass(frozen=True)
class Entries:
    """Entries to be added (as here, as there) and to be written anew, by table; names that were taken (there, here)."""

    added: tuple[tuple[str, Row, Row], ...]
    changed: tuple[tuple[str, Row], ...]
    renamed: tuple[tuple[str, str, str], ...]
    conflicts: tuple[Contradiction, ...]


def entries(here: Casebook, other: Casebook, new: Theirs) -> Entries:
    """What another casebook's catalogue and drafts bring."""
    added, changed, renamed, conflicts = [], [], list[tuple[str, str, str]](), list[Contradiction]()
    marks_there = {(row["part"], row["entry"]) for part, row in new.rows if part == "catalogue_marks"}
    marks_here = _marked_here_alone(here, other)
    for part in (*PARTS, "drafts"):
        key = schema.MARKED.get(part, "id")
        mine = {row[key]: row for row in here.query(f"SELECT * FROM {part}")}
        taken = {row["name"] for row in mine.values()} if part in NAMED else set()
        for row in other.query(f"SELECT * FROM {part} ORDER BY rowid"):
            theirs = _placed(other, part, row)
            if row[key] not in mine:
                if part in NAMED and theirs["name"] in taken:
                    name = free_name(str(theirs["name"]), other, taken)
                    renamed.append((part, str(theirs["name"]), name))
                    theirs = {**theirs, "name": name}
                taken |= {theirs["name"]} if part in NAMED else set()
                added.append((part, theirs, row))
            elif mine[row[key]] not in (row, theirs):
                entry = (part, row[key])
                if entry in marks_there and entry in marks_here:
                    label = catalogue_marks.label(*entry, mine[row[key]])
                    values = named_rows.differing((here, other), part, mine[row[key]], theirs)
                    said = f"{label} was changed in both, otherwise in each: {values}"
                    conflicts.append(Contradiction(said, SAME_IN_BOTH))
                elif entry in marks_there:
                    changed.append((part, theirs))
    return Entries(tuple(added), tuple(changed), tuple(renamed), tuple(conflicts))


def changes_told(here: Casebook, other: Casebook, found: Entries) -> list[str]:
    """What entries of the catalogue are to be from now on; asked before it is written."""
    told = []
    for part, row in found.changed:
        key = schema.MARKED.get(part, "id")
        [mine] = here.query(f"SELECT * FROM {part} WHERE {key} = ?", [row[key]])
        called = catalogue_marks.label(part, str(row[key]), mine)
        if mine.get("name") != row.get("name"):
            told.append(f"{called} is now called {row['name']}")
        was, now = ({column: one[column] for column in one if column != "name"} for one in (mine, row))
        values = named_rows.differing((here, other), part, was, now, ("was here", "there"))
        if values:
            told.append(f"{called} is now as it is there: {values}")
    return told


def free_name(name: str, other: Casebook, taken: set[str]) -> str:
    """A name with the beginning of the other casebook's identifier behind it, as long as it must be to be free."""
    own = str(other.head()["id"]).rpartition("-")[2]
    tries: Iterator[str] = (f"{name} ({own[:length]})" for length in range(MARK_LENGTH, len(own) + 1))
    return next((one for one in tries if one not in taken), f"{name} ({own}, again)")


def _placed(other: Casebook, part: str, row: Row) -> Row:
    """An entry with the place of its file as it is found from anywhere."""
    if part in ("recordings", "sources") and not Path(row["path"]).is_absolute():
        return {**row, "path": str((other.folder / row["path"]).resolve())}
    return row


def _marked_here_alone(here: Casebook, other: Casebook) -> set[tuple[str, str]]:
    """Entries that were changed here since the two parted."""
    known = {row["id"] for row in other.query("SELECT id FROM catalogue_marks")}
    rows = here.query("SELECT id, part, entry FROM catalogue_marks")
    return {(row["part"], row["entry"]) for row in rows if row["id"] not in known}
