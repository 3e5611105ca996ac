"""Where rows that were brought in by `merge` come from: their places and hashes in the chains of other casebooks.

A merged casebook has one chain, its own; a row that was brought in is a link of it like any other. Beside it stands
where that row was before: the links of each origin's chain, which lead from its head (chained in `origins`) back to its
first row. So the chain of every origin can be laid again, whole, from the rows that are here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from . import schema
from .store import Casebook, Row


@dataclass(frozen=True)
class OriginLink:
    """A row's place in a chain: which row (table, identifier), its hash there, and what a plan was called there."""

    hash: str
    seq: int
    prior: str
    part: str
    row_id: str
    name: str = ""


@dataclass(frozen=True)
class Origin:
    """A casebook that was brought in, as far as it went then."""

    casebook: str
    rows: int
    head: str


def links_of(rows: Mapping[str, Iterable[Row]]) -> dict[str, OriginLink]:
    """All links that are known, by hash: those of the casebook's own chain, and those of other chains.

    Parameters
    ----------
    rows
        By table, as `inspection` reads them.
    """
    found = {row["hash"]: OriginLink(**row) for row in rows["origin_links"]}
    for part in schema.PROTECTED:
        for row in rows[part]:
            found[row["hash"]] = OriginLink(row["hash"], row["seq"], row["prior"], part, row["id"])
    return found


def every_link(casebook: Casebook) -> dict[str, OriginLink]:
    """The same of a casebook that is not read whole."""
    rows = casebook.query("SELECT hash, seq, prior, part, id AS row_id, '' AS name FROM chain_links")
    rows += casebook.query("SELECT * FROM origin_links")
    return {row["hash"]: OriginLink(**row) for row in rows}


def chain(links: Mapping[str, OriginLink], head: str) -> list[OriginLink]:
    """The chain that ends with a hash, as far back as links lead, in its order."""
    found = list[OriginLink]()
    while (link := links.get(head)) is not None and len(found) <= len(links):
        found.append(link)
        head = link.prior
    return found[::-1]


def as_there(row: Row, link: OriginLink) -> Row:
    """A row as it was hashed in the chain of a link."""
    called = {"name": link.name} if link.name else {}
    return {**row, **called, "seq": link.seq, "prior": link.prior, "hash": link.hash}


def every(casebook: Casebook) -> list[Origin]:
    """The casebooks that were brought in, in their order."""
    return [Origin(**row) for row in casebook.query("SELECT casebook, rows, head FROM origins ORDER BY seq")]


def named_hashes(casebook: Casebook, part: str) -> dict[str, str]:
    """The hash by which plans name a row of a table, where it is another than that of the row here; by identifier."""
    return {
        row["row_id"]: row["hash"]
        for row in casebook.query("SELECT row_id, hash FROM brought_in WHERE part = ?", [part])
    }


def with_named_hashes(casebook: Casebook, part: str, rows: Iterable[Row]) -> list[Row]:
    """Rows of a table with the hashes by which plans name them."""
    named = named_hashes(casebook, part)
    return [{**row, "hash": named.get(row["id"], row["hash"])} for row in rows]


def link_there(casebook: Casebook, part: str, row: Row) -> tuple[int, str]:
    """The place and hash of a row in the chain where it was written first: what was shown of it then."""
    found = casebook.query(
        """SELECT seq, origin_links.hash FROM brought_in JOIN origin_links USING (part, row_id, hash)
           WHERE part = ? AND row_id = ?""",
        [part, row["id"]],
    )
    return (found[0]["seq"], found[0]["hash"]) if found else (row["seq"], row["hash"])


def places(casebook: Casebook) -> Mapping[int, int] | None:
    """The place in time of each row of the chain, by its place in the chain; None where nothing was brought in.

    Rows of different casebooks have no order but that of their clocks, whatever was brought in first; rows of one chain
    keep its order, also where its clock went back.
    """
    brought = {(row["part"], row["row_id"]) for row in casebook.query("SELECT part, row_id FROM brought_in")}
    if not brought:
        return None
    parts = " UNION ALL ".join(f"SELECT seq, at, id, '{part}' AS part FROM {part}" for part in schema.PROTECTED)
    timed, latest, line, was_brought = list[tuple[str, int]](), dict[int, str](), 0, False
    for row in casebook.query(f"{parts} ORDER BY seq"):
        is_brought = (row["part"], row["id"]) in brought
        line += is_brought and not was_brought  # each stretch that was brought in; 0: this casebook's own
        own, was_brought = line if is_brought else 0, is_brought
        latest[own] = max(latest.get(own, ""), row["at"])
        timed.append((latest[own], row["seq"]))
    return {seq: place for place, (_, seq) in enumerate(sorted(timed), 1)}


def homes(casebook: Casebook, part: str) -> Mapping[str, str]:
    """The casebook in which each row of a table was written first, by the row's identifier; of those brought in."""
    links, of_hash = every_link(casebook), dict[str, str]()
    for origin in every(casebook):
        for link in chain(links, origin.head):
            of_hash.setdefault(link.hash, origin.casebook)
    return {row_id: of_hash.get(digest, "") for row_id, digest in named_hashes(casebook, part).items()}
