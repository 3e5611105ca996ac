"""The catalogue as the chain holds it: every entry, as it was added and as it was changed. Pure: rows in, findings out.

The store writes a mark (a row of `catalogue_marks`) with every entry. A casebook older than the marks has none until an
entry is added to it; that brings a mark of every entry there is, as it was found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from . import documents, hash_chain, schema

UNMARKED = ("head_seq", "head_hash")  # of the casebook's own row: the end of the chain, which grows with every link
WORDS: Mapping[str, str] = {
    "casebook": "the casebook's own row",
    "setups": "setup",
    "chains": "the playback chain of",
    "tracks": "track",
    "recordings": "recording",
    "sources": "music",
    "passages": "passage",
    "listeners": "listener",
}

Content = Mapping[str, Any]


@dataclass(frozen=True)
class Mark:
    """What a link of the chain says of an entry; `content` is None where it was removed or cannot be read."""

    seq: int
    what: str
    content: Content | None


@dataclass(frozen=True)
class MarkedCatalogue:
    """The catalogue's entries as they stand, and the marks of each, by table and identifier."""

    entries: Mapping[tuple[str, str], Content]
    marks: Mapping[tuple[str, str], Sequence[Mark]]

    @property
    def older(self) -> int:
        """How many entries are older than the marks: nothing in the chain says how they were when they were added."""
        first = {entry: marks[0].what for entry, marks in self.marks.items()}
        return sum(first.get(entry, "found") == "found" for entry in self.entries)

    def identifiers(self, part: str) -> list[str]:
        """The identifiers of a table's entries, of those that were removed too."""
        return [entry for table, entry in {**self.marks, **self.entries} if table == part]

    def as_of(self, part: str, entry: str, seq: int) -> Content | None:
        """An entry as it stood when link `seq` of the chain was written; None if there is none."""
        marks = self.marks.get((part, entry))
        if not marks:
            return self.entries.get((part, entry))
        before = [mark for mark in marks if mark.seq < seq]
        return (before[-1] if before else marks[0]).content  # found later, as it had been before

    def faults(self) -> list[str]:
        """Where an entry is not what its newest mark says, in words."""
        if not self.marks:
            return []
        found = []
        for entry in {**self.marks, **self.entries}:
            now, marks = self.entries.get(entry), self.marks.get(entry)
            if not marks:
                found.append(f"{label(*entry, now)} is in the catalogue; nothing in the chain says that it was added")
            elif marks[-1].content is None:
                found += (
                    [f"{label(*entry, now)} is in the catalogue; the chain says that it was removed"] if now else []
                )
            elif now is None:
                found.append(f"{label(*entry, marks[-1].content)} is missing from the catalogue")
            elif changed := differing(marks[-1].content, now):
                found.append(f"{label(*entry, marks[-1].content)} was changed, against the chain: {', '.join(changed)}")
        return found


def of_rows(rows: Mapping[str, Sequence[Content]]) -> MarkedCatalogue:
    """The catalogue of a casebook's rows, by table."""
    entries = {
        (part, str(row.get(key))): _marked(row) for part, key in schema.MARKED.items() for row in rows.get(part, ())
    }
    marks: dict[tuple[str, str], list[Mark]] = {}
    others = {row["row_id"] for row in rows.get("brought_in", ()) if row["part"] == "catalogue_marks"}
    for row in sorted(rows.get("catalogue_marks", ()), key=lambda row: row["seq"]):
        if row["part"] == "casebook" and row["id"] in others:
            continue  # what another casebook was, which was brought into this one
        content = None if row["what"] == "removed" else _read(row["document"])
        marks.setdefault((str(row["part"]), str(row["entry"])), []).append(Mark(row["seq"], row["what"], content))
    return MarkedCatalogue(entries, marks)


def text(row: Content) -> str:
    """The canonical JSON text of an entry, as its mark keeps it."""
    return hash_chain.canonical(_marked(row))


def label(part: str, entry: str, content: Content | None) -> str:
    """An entry as a person knows it."""
    own = content or {}
    name = "" if part == "casebook" else f" {own.get('name') or own.get('path') or entry}"
    return f"{WORDS.get(part, part)}{name}"


def differing(then: Content, now: Content) -> list[str]:
    """The columns in which two contents of an entry differ."""
    return [column for column in {**then, **now} if then.get(column) != now.get(column)]


def _marked(row: Content) -> Content:
    return {column: value for column, value in row.items() if column not in UNMARKED}


def _read(document: Any) -> Content | None:
    """A mark's document; None where it cannot be read (the chain says then that it was edited)."""
    try:
        read = documents.value_of(document)
    except (TypeError, ValueError):
        return None
    return read if isinstance(read, dict) else None
