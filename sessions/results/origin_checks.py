"""The chains of casebooks that were brought in, laid again from the rows that are here. Pure: rows in, findings out.

What a casebook wrote itself is looked at as in any other, without what was brought in; each origin is looked at as the
casebook that it was, with its own chain, counters, turns and catalogue.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from functools import cached_property

from ..casebook import documents, hash_chain, origins, schema
from ..casebook.inspection import Inspected
from ..casebook.origins import OriginLink
from ..casebook.store import Row

Placed = tuple[str, str]
"""A row by its table and identifier."""


class Origins:
    """The origins of a casebook that was read whole."""

    def __init__(self, found: Inspected) -> None:
        self._found = found
        self._brought = {(row["part"], row["row_id"]): row["hash"] for row in found.rows["brought_in"]}

    @property
    def any(self) -> bool:
        """Whether anything was ever brought in."""
        return any(self._found.rows[table] for table in ("origins", "origin_links", "brought_in"))

    @cached_property
    def own(self) -> Inspected:
        """The casebook without what was brought in."""
        return without_brought_in(self._found) if self.any else self._found

    @cached_property
    def laid(self) -> list[tuple[Row, Inspected]]:
        """Each origin's row, and that casebook as it was then."""
        rows = {(part, row["id"]): row for part in schema.PROTECTED for row in self._found.rows[part]}
        return [(origin, self._as_it_was(origin, rows)) for origin in self._found.rows["origins"]]

    def _as_it_was(self, origin: Row, rows: Mapping[Placed, Row]) -> Inspected:
        parts: dict[str, list[Row]] = {part: [] for part in schema.PROTECTED}
        for link in self._chain(origin):
            row = rows.get((link.part, link.row_id))
            if row is not None:
                parts[link.part].append(origins.as_there(row, link))
        kept = {part: list(of) for part, of in self._found.rows.items() if part not in schema.PROTECTED}
        kept |= self._as_found
        own = {"id": origin["casebook"], "head_seq": origin["rows"], "head_hash": origin["head"]}
        brought = self._brought_into(parts)
        return Inspected({**kept, **parts, "casebook": [own], "secrets": [], "brought_in": brought}, [])

    def _brought_into(self, parts: Mapping[str, list[Row]]) -> list[Row]:
        """What had been brought into an origin itself: the rows of its own origins that it had not written."""
        own = {row["hash"] for of in parts.values() for row in of}
        chains = [self._chain(origin) for origin in parts["origins"]]
        native = {(link.part, link.row_id) for links in chains for link in links if link.hash in own}
        found = {(link.part, link.row_id): link.hash for links in chains for link in links if link.hash not in own}
        return [
            {"part": part, "row_id": row_id, "hash": digest}
            for (part, row_id), digest in found.items()
            if (part, row_id) not in native
        ]

    @cached_property
    def _as_found(self) -> Mapping[str, list[Row]]:
        """The catalogue's entries as their first marks have them: what stands for an origin that wrote no marks."""
        entries: dict[str, dict[str, Row]] = {part: {} for part in schema.MARKED}
        for mark in sorted(self._found.rows["catalogue_marks"], key=lambda row: int(row["seq"])):
            with suppress(KeyError, TypeError, ValueError):  # one that was edited is told by the chain
                entries[mark["part"]].setdefault(mark["entry"], dict(documents.value_of(mark["document"])))
        return {part: list(of.values()) for part, of in entries.items()}

    @cached_property
    def _links(self) -> Mapping[str, OriginLink]:
        return origins.links_of(self._found.rows)

    def _chain(self, origin: Row) -> list[OriginLink]:
        return origins.chain(self._links, str(origin["head"]))

    def faults(self) -> Iterator[str]:
        """Where the chain of an origin does not hold, and where what stands beside the rows is not what it says."""
        known = {(part, row["id"]) for part in schema.PROTECTED for row in self._found.rows[part]}
        own = {row["hash"] for _, row in self._found.chained}
        reached, native = dict[str, Placed](), set[Placed]()
        for origin, laid in self.laid:
            called = f"the casebook {origin['casebook']} that was brought in"
            for link in self._chain(origin):
                if link.hash in own:
                    native.add((link.part, link.row_id))
                else:
                    reached[link.hash] = (link.part, link.row_id)
                if (link.part, link.row_id) not in known:
                    yield f"{called}: its row {link.seq} ({link.part} {link.row_id}) is missing"
            for one in hash_chain.breaks(laid.chained, origin["rows"], origin["head"]):
                yield f"{called}: {one.table} {one.row_id} (its link {one.seq}): {one.what}"
        for row in self._found.rows["origin_links"]:
            if row["hash"] not in reached:
                yield f"the link {row['hash'][:16]}… ({row['part']} {row['row_id']}) is of no casebook brought in"
        for placed, first in self._brought.items():
            if reached.get(first) != placed:
                yield f"{placed[0]} {placed[1]}: no casebook that was brought in has the hash it is said to come with"
        for part, row_id in sorted((set(reached.values()) & known) - native - set(self._brought)):
            yield f"{part} {row_id} was brought in, and nothing says so"


def without_brought_in(found: Inspected) -> Inspected:
    """A casebook without the rows that were brought into it."""
    brought = {(row["part"], row["row_id"]) for row in found.rows["brought_in"]}
    rows = {
        part: [row for row in kept if part not in schema.PROTECTED or (part, row.get("id")) not in brought]
        for part, kept in found.rows.items()
    }
    return Inspected(rows, found.faults)
