"""Another casebook's rows beside those of this one: each once, in the order of its chain, as links of this chain.

Nothing is written before everything was found to fit; then all of it is, in one transaction, or nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import CasebookError, MergeConflict
from . import (
    audience_answers,
    catalogue_marks,
    database,
    merge_catalogue,
    merge_claims,
    merge_rows,
    named_rows,
    schema,
    secret_files,
)
from .catalogue_changes import ORPHANS
from .contradictions import ENTRY_BACK, SECRET_PUT_BACK, Contradiction
from .merge_catalogue import Entries
from .merge_rows import Theirs
from .store import FILE_NAME, Casebook, NewRow, Row, new_row, utc_now

MOST_TOLD = 20  # contradictions of one casebook that are listed


@dataclass(frozen=True)
class Merged:
    """What one casebook brought: rows of its chain, entries of its catalogue, and names that were taken already.

    `told` says which claims it brought, and how entries of the catalogue were changed by it.
    """

    casebook: str
    folder: str
    rows: int
    entries: int
    renamed: tuple[tuple[str, str, str], ...]
    told: tuple[str, ...] = ()

    @property
    def anything(self) -> bool:
        """Whether it brought anything that was not here."""
        return bool(self.rows or self.entries)


def read_only(folder: Path) -> Casebook:
    """A casebook as it stands at one moment, in memory and of this version; nothing is written into its folder.

    Raises
    ------
    CasebookError
        If there is none, it is from a newer version, damaged, or cannot be read.
    """
    if not (folder / FILE_NAME).is_file():
        raise CasebookError(f"no casebook in {folder} (no {FILE_NAME} there); name a casebook's folder")
    with database.translated(folder / FILE_NAME):
        with Casebook(folder, database.connect(folder / FILE_NAME, read_only=True), utc_now) as opened:
            older = database.is_older(opened.db, opened.file)
            copy = opened.snapshot()
        if older:
            database.make_tables(copy.db)
        return copy


def merge(here: Casebook, other: Casebook) -> Merged:
    """Bring in what another casebook holds and this one does not.

    Raises
    ------
    MergeConflict
        If the two contradict each other; nothing is written then.
    """
    new = merge_rows.theirs(here, other)
    entries = merge_catalogue.entries(here, other, new)
    found = [*merge_rows.conflicts(here, other, new), *merge_claims.conflicts(here, other, new), *entries.conflicts]
    if found:
        raise _conflict(other, found)
    rows, links, renamed = _called(here, other, new)
    told = merge_catalogue.changes_told(here, other, entries)
    if new.anything or entries.added or entries.changed:
        _write(here, other, new, rows, links, entries)
    return Merged(
        new.casebook,
        str(other.folder),
        len(new.rows),
        len(entries.added) + len(entries.changed),
        (*entries.renamed, *renamed),
        (*told, *merge_claims.brought(here, new)),
    )


def keep_secrets(here: Casebook, other: Casebook, seal: Callable[[bytes, str], str]) -> list[str]:
    """Keep the secrets of another casebook's plans that are over in neither, where they are not here: before its rows.

    Gives what each that was kept is of. One that was missing before is so fetched by merging again. `seal` is the
    rule's own, of a secret and a document.

    Raises
    ------
    MergeConflict
        If one does not give its seal, or both have another secret of one plan; nothing is kept then.
    """
    ended = "SELECT plan_id AS over FROM openings UNION SELECT viewers_id FROM viewers_openings"
    over = {row["over"] for casebook in (here, other) for row in casebook.query(ended)}
    told = {row["plan_id"]: secret_files.from_text(row["secret"]) for row in other.query("SELECT * FROM secrets")}
    kept, names, wrong = dict[str, bytes](), list[str](), list[Contradiction]()
    for row in other.query(
        """SELECT id, 'plan ' || name AS called, document, seal FROM plans UNION ALL
           SELECT id, 'the viewers'' ' || json_extract(document, '$.form') || ' of plan ' ||
           json_extract(document, '$.plan_name') || ' (' || id || ')', document, seal FROM viewers_tests"""
    ):
        file, own = secret_files.read(other.folder, row["id"]), secret_files.read(here.folder, row["id"])
        secret = file or told.get(row["id"])
        if secret and own and secret != own:
            wrong.append(Contradiction(f"{row['called']} has another secret in each", SECRET_PUT_BACK))
        elif own or row["id"] in over or (secret is None and file is None):
            continue
        elif not secret or seal(secret, row["document"]) != row["seal"]:
            path = secret_files.path_of(other.folder, row["id"])
            wrong.append(
                Contradiction(f"the secret of {row['called']} does not give its seal: {path}", SECRET_PUT_BACK)
            )
        else:
            kept[row["id"]] = secret
            names.append(row["called"])
    if wrong:
        raise _conflict(other, wrong)
    if kept:
        secret_files.keep(here.folder, kept)
    return names


def keep_answers(here: Casebook, other: Casebook) -> None:
    """Keep what audiences answered in another casebook's tests that are over, where it is not here."""
    for row in other.query("SELECT viewers_id, answers_sha256 FROM viewers_openings"):
        which = (row["viewers_id"], row["answers_sha256"])
        text = audience_answers.read(other.folder, *which)
        if text is not None and audience_answers.read(here.folder, *which) is None:
            audience_answers.keep(here.folder, row["viewers_id"], text)


def _conflict(other: Casebook, found: Sequence[Contradiction]) -> MergeConflict:
    return MergeConflict(
        str(other.folder),
        tuple(one.told for one in found[:MOST_TOLD]),
        len(found),
        tuple(dict.fromkeys(one.way for one in found)),
    )


def _called(here: Casebook, other: Casebook, new: Theirs) -> tuple[list[NewRow], list[Row], list[tuple[str, str, str]]]:
    """The rows to append, and the links, with another name for a plan whose name is taken."""
    taken = {row["name"] for row in here.query("SELECT name FROM plans UNION SELECT name FROM drafts")}
    rows, renamed = list[NewRow](), list[tuple[str, str, str]]()
    for part, row in new.rows:
        content = {column: value for column, value in row.items() if column not in (*merge_rows.LINK, "id")}
        if part == "plans":
            if row["name"] in taken:
                content["name"] = merge_catalogue.free_name(row["name"], other, taken)
                renamed.append((part, row["name"], content["name"]))
            taken.add(content["name"])
        rows.append(NewRow(part, row["id"], content))
    here_called = {row["id"]: row["name"] for row in here.query("SELECT id, name FROM plans")}
    here_called |= {row.id: str(row.content["name"]) for row in rows if row.table == "plans"}
    names = {row["id"]: row["name"] for row in other.query("SELECT id, name FROM plans")}
    links = []
    for link in new.links:
        there = (link.name or names[link.row_id]) if link.part == "plans" else ""
        links.append({**link.__dict__, "name": "" if there == here_called.get(link.row_id) else there})
    return rows, links, renamed


def _write(
    here: Casebook, other: Casebook, new: Theirs, rows: Sequence[NewRow], links: Sequence[Row], entries: Entries
) -> None:
    here.db.execute("PRAGMA foreign_keys = OFF")  # SQLite takes this outside of a transaction only; looked at below
    try:
        with here.writing():
            lost = _lost(here)
            here.mark_older_entries()
            for part, row, _ in entries.added:
                _insert(here, part, row)
            for part, row in entries.changed:
                _update(here, part, row)
            # where the other only went on from where this one stands its rows have the same hashes: nothing is noted
            same = {row["hash"] for row in here.append_many(rows)}
            for (part, row), first in zip(new.rows, new.first, strict=True):
                if first not in same:
                    _insert(here, "brought_in", {"part": part, "row_id": row["id"], "hash": first})
            for link in links:
                if link["hash"] not in same:
                    _insert(here, "origin_links", link)
            if new.head is not None and new.head[1] not in same:
                count, head = new.head
                content = {"casebook": new.casebook, "rows": count, "head": head}
                here.append_many([new_row("origins", "origin", content)])
            _mark_as_found(here, entries)
            _mark_entries(here)
            left = [(table, rowid) for table, rowid in sorted(_lost(here) - lost) if table not in ORPHANS]
            if left:
                raise _conflict(other, _nameless(here, other, left))
    finally:
        here.db.execute("PRAGMA foreign_keys = ON")


def _nameless(here: Casebook, other: Casebook, left: Sequence[tuple[str, int]]) -> list[Contradiction]:
    """Rows that name an entry of the catalogue which was removed here, as they are called there."""
    found = []
    for table, rowid in left:
        [row] = here.query(f"SELECT * FROM {table} WHERE rowid = ?", [rowid])
        called = named_rows.told((here, other), table, row) if "at" in row else named_rows.kind(table)
        found.append(Contradiction(f"{called} names an entry that was removed here", ENTRY_BACK))
    return found


def _insert(casebook: Casebook, table: str, row: Row) -> None:
    places = ", ".join(f":{column}" for column in row)
    casebook.db.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({places})", row)


def _update(casebook: Casebook, part: str, row: Row) -> None:
    columns, key = ", ".join(f"{column} = :{column}" for column in row), schema.MARKED[part]
    casebook.db.execute(f"UPDATE {part} SET {columns} WHERE {key} = :{key}", row)


def _mark_as_found(casebook: Casebook, entries: Entries) -> None:
    """A mark of what an older casebook brought without one: each entry as it was there, before it is renamed here."""
    marked = {(row["part"], row["entry"]) for row in casebook.query("SELECT DISTINCT part, entry FROM catalogue_marks")}
    for part, _, there in entries.added:
        if part in schema.MARKED and (part, there[schema.MARKED[part]]) not in marked:
            document = catalogue_marks.text(there)
            content = {"part": part, "entry": there[schema.MARKED[part]], "what": "found", "document": document}
            casebook.append("catalogue_marks", "entry", content)


def _mark_entries(casebook: Casebook) -> None:
    """A mark of every entry that its newest one does not hold as it stands now: new, renamed, its file elsewhere."""
    rows = {part: casebook.query(f"SELECT * FROM {part}") for part in (*merge_catalogue.PARTS, "catalogue_marks")}
    marked = catalogue_marks.of_rows(rows)
    for (part, entry), now in marked.entries.items():
        newest = marked.marks.get((part, entry), ())
        if not newest:
            casebook.mark(part, entry, "found")
        elif newest[-1].content is None:
            casebook.mark(part, entry, "added")
        elif catalogue_marks.differing(newest[-1].content, now):
            casebook.mark(part, entry, "changed")


def _lost(casebook: Casebook) -> set[tuple[str, int]]:
    return {(row["table"], row["rowid"]) for row in casebook.query("PRAGMA foreign_key_check")}
