"""Verify finds every single edit, deletion, insertion and swap in a casebook that holds every kind of record."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from demo_tracks import tracks
from sessions.casebook import (
    catalogue,
    free_rows,
    left_out,
    merging,
    playback_chain,
    recordings,
    schema,
    secret_files,
    session_ends,
    session_rows,
    threshold_rows,
    witness_rows,
)
from sessions.casebook.catalogue import Listener, Passage, Setup, Track
from sessions.casebook.left_out import LeftOut
from sessions.casebook.store import FILE_NAME, Casebook, NewRow, create, new_row, open_casebook
from sessions.casebook.threshold_rows import GivenAnswer, Sought
from sessions.listening import session
from sessions.measured import curve_records, own_thresholds
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.plans import drafting, seals, viewers_rows, viewers_test
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check, match_sheet, mends
from sessions.preparation.mends import PassageMend
from sessions.preparation.passage_audio import NO_MEND
from sessions.preparation.selection import select
from sessions.report.claims import claim_rows
from sessions.results import review, verification
from sessions.words import lexicon_rows, log
from sessions.words.lexicon_changes import Change
from tests.answered_plans import PAIR, SETUPS, answer_all, sealed_plan
from tests.casebooks import chained_rows, secret_file, secret_of

DRAFT = "a draft is a wish and no record: only what is sealed counts"
UPGRADE = "when and in which order the program made the tables: nothing is dated by it, and the step's name is compared"
LEFT_OUT = "why a track is not in a comparison is looked up anew each time it is gone on with, and is no record"
MOST_WAYS = 40  # tried to swap two cells of a column
Placed = tuple[tuple[Any, ...], dict[str, Any]]  # what identifies a row, and the row
MAY_CHANGE = {
    ("drafts", "id", "edit"): DRAFT,
    ("drafts", "name", "edit"): DRAFT,
    ("drafts", "document", "edit"): DRAFT,
    ("drafts", "made_at", "edit"): DRAFT,
    ("drafts", "id", "swap"): DRAFT,
    ("drafts", "name", "swap"): DRAFT,
    ("drafts", "document", "swap"): DRAFT,
    ("drafts", "made_at", "swap"): DRAFT,
    ("drafts", "", "delete"): DRAFT,
    ("drafts", "", "insert"): DRAFT,
    **{
        ("left_out", column, what): LEFT_OUT
        for column in ("first", "second", "track", "whole", "why", "again")
        for what in ("edit", "swap")
    },
    ("left_out", "", "delete"): LEFT_OUT,
    ("left_out", "", "insert"): LEFT_OUT,
    ("_sqlite_migrations", "id", "edit"): UPGRADE,
    ("_sqlite_migrations", "applied_at", "edit"): UPGRADE,
    ("_sqlite_migrations", "id", "swap"): UPGRADE,
    ("_sqlite_migrations", "applied_at", "swap"): UPGRADE,
    ("_sqlite_migrations", "name", "swap"): UPGRADE,
}
"""The few cells that verify does not watch, each with the reason: a table, its column, and what was done."""

INNER = ("words_search_config", "words_search_content", "words_search_data", "words_search_docsize", "words_search_idx")
"""SQLite's own tables behind the search of words; where a change goes unnoticed, SQLite says that all is found."""

EMPTY = {"secrets"}
"""What is left of earlier versions, and holds nothing any more."""

OTHER_CHOICES = {
    ("claim_tellings", "standing"): "shown",
    ("lexicon_changes", "kind"): "add",
    ("lexicon_changes", "document"): "{}",
    ("trials", "key"): '{"X": 0}',
    ("session_marks", "what"): "paused",
    ("catalogue_marks", "what"): "found",
    ("curves", "kind"): "impedance",
    ("curves", "plane"): "vertical",
    ("witnesses", "what"): "end",
}


@pytest.fixture(scope="module")
def everything(three_setups: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Casebook]:
    """A casebook with two rows at least of every table there is."""
    folder = tmp_path_factory.mktemp("everything") / "book"
    shutil.copytree(three_setups, folder)
    with open_casebook(folder) as book:
        fill(book)
        yield book


def fill(book: Casebook) -> None:
    """Every kind of record: plans over, closed and running, rehearsed, free, real gear, curves, words, drafts."""
    for number, name in enumerate(("willow route", "alder route")):
        catalogue.add_setup(book, name, "gear", playback_chain.routed(f"box:{2 * number + 1},{2 * number + 2}"))
    for track in catalogue.everything(book, Track):
        music = tracks.path(track.name)
        recordings.keep(book, recordings.new_music(book, track, music), None, track, music)
    selection = select(book, list(SETUPS), [])
    sheet = match_sheet.newest(book, selection)
    assert sheet is not None
    match_sheet.keep(book, sheet.record)
    giveaway_check.keep(book, giveaway_check.of_findings(selection, []))
    passage = catalogue.everything(book, Passage)[0]
    for setup in selection.setups[:2]:
        mend = PassageMend(setup.id, setup.name, passage.id, passage.name, NO_MEND, "late")
        mends.keep(book, [mend])
    sealed_plan(book, "evening", method="abx", trials=3)
    answer_all(book, 1.0)
    sealed_plan(book, "closed", method="preference", trials=2, listeners=("Bo",))
    answer_all(book, 1.0, "Bo", "closed", most=1)
    seals.close(book, "closed", "the lights went out")
    running = sealed_plan(book, "running", method="duo-trio", trials=3, listeners=("Ada", "Bo"))
    with session.begin(book, "running", "Ada", "none: test") as listening:
        for _ in range(2):
            offered = listening.next_trial()
            assert offered is not None
            listening.fault(offered, "underrun", 1, "late")
        offered = listening.next_trial()
        assert offered is not None
        listening.answer(offered, "1", 2, 900)
    ada, bo = (catalogue.find(book, Listener, name) for name in ("Ada", "Bo"))
    rehearsed = session_rows.new_session(running.id, bo.id, "Bo", '{"seed": 3}', "none: test")
    heard = [session_rows.new_exposure(rehearsed.id, one.id, ms, 7000 + ms) for one, ms in ((ada, 4000), (bo, 5000))]
    book.append_many([rehearsed, *heard])
    for number, (listener, setup) in enumerate(zip((ada, bo), selection.setups, strict=False)):
        word = log.Word(f"warm{number}", 3 + number, 1000 + number, note=f"low {number}", setup_id=setup.id)
        log.log(book, listener, word)
        document = json.dumps({"device": f"box {number}", "input": 1, "offset_db": 94.5 + number})
        book.append("calibrations", "calibration", {"document": document})
        data = np.array([[100.0, 85.5 + number], [200.0, 84.25]])
        new = NewCurve("response", Direction("horizontal", 10 * number), data, Conditions(room=f"barn {number}"))
        kept = curve_records.keep(book, setup, [(RawFile.of(f"{number}.txt", b"100 85.5 %d" % number), [new])])
        again = RawFile.of(f"{number} again.txt", b"100 85 %d" % number)
        curve_records.keep(book, setup, [(again, [new])], replaces=kept, why=f"the gate was wrong {number}")
        fact = {
            "setup_id": setup.id,
            "what": f"weight {number}",
            "value": f"{9 + number} kg",
            "source": f"page {number}",
        }
        book.append("facts", "fact", fact)
    for number, (listener, setup) in enumerate(zip((ada, bo), selection.setups, strict=False)):
        free = free_rows.new_session(listener.id, [setup.id], "none: test")
        said = log.new_word(listener, log.Word(f"free{number}", 2, setup_id=setup.id))
        heard_of = free_rows.new_audition(
            free.id, setup.id, passage.track_id, f"strings {number}", 100 + number, 3000 + number
        )
        book.append_many([free, heard_of, said, log.place_of(said, free.id, f"strings {number}")])
    for number, (listener, setup) in enumerate(zip((ada, bo), selection.setups, strict=False)):
        begun = threshold_rows.new_session(listener.id, "none: test")
        sought = Sought(
            "lift", 4000 + number, 1.0, (1.0, 2.0), 3, 0.6667, 0.95, 2.5, 1, 9, "", 4000, 48_000, "", "a", 0.0, "box"
        )
        run = threshold_rows.new_threshold(begun.id, setup.id, sought)
        given: list[GivenAnswer] = []
        while len(given) <= number:
            size = own_thresholds.next_size(sought, given)
            assert size is not None
            given.append(GivenAnswer(size, number, 2 - len(given)))
        book.append_many([begun, run])
        for trial, one in enumerate(given, 1):
            book.append_many([threshold_rows.new_answer(run.id, trial, one, 900 + trial + number, [number, trial, 1])])
    for name, phrase in (("drawn", "rain, 7 12 31"), ("drawn again", "sun, 3 5 8")):
        drafting.draft(book, Wish("abx", PAIR, listeners=("Bo",), trials=3), name)
        seals.seal(book, name, await_phrase=True)
        seals.give_phrase(book, name, phrase)
    for number, name in enumerate(("held", "held again")):
        drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=2), name)
        seals.seal(book, name, ask_second=lambda number=number: f"heldbysomebodyelse{number}")
        answer_all(book, 1.0, plan=name, most=2 - number, second=f"held by somebody else {number}")
    seals.close(book, "held again", "it rained", "Held by somebody else 1")
    for number, name in enumerate(("lost", "lost again")):
        drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=2), name)
        seals.seal(book, name, ask_second=lambda number=number: f"whateverthiswas{number}")
        seals.give_up(book, name, f"the paper burnt {number}")
    witness_rows.keep(book, "seal", seals.sealed_plan(book, "evening").seal, "the first viewer")
    witness_rows.keep(book, "end", str(session_ends.of_plan(book, running.id)[0].end.code), "an e-mail to Bo")
    one, other, third = (setup.id for setup in selection.setups)
    for number, both in enumerate(((one, other), (other, third))):
        left = LeftOut(f"track {number}", f"silent {number}", whole=bool(number))
        left_out.keep(book, both, [left.track], [left], f"earwitness compare {number}")
    for number in range(2):
        with create(book.folder.with_name(f"site {number}")) as site:
            catalogue.add_setup(site, f"site {number}")
            visitor = catalogue.add_listener(site, f"visitor {number}")
            log.log(site, visitor, log.Word(f"there{number}", 2, 100 + number))
            merging.merge(book, site)
    lexicon_rows.keep(book, [Change("rename", "boxy", "box-like"), Change("merge", "chesty", "boxy")])
    for number, name in enumerate(("drawn", "drawn again")):
        plan = seals.sealed_plan(book, name)
        asked = viewers_test.drawn_up(
            plan.plan, plan.seal, f"viewers-{number}", "page", 4 + number, {"rate_hz": 48_000}
        )
        viewers_rows.open_seal(book, viewers_rows.keep(book, asked, bytes([number]) * 32), number, f"{number}" * 64)
    for number in range(2):
        claim = claim_rows.keep(book, f"Sentence {number}.", claim_rows.ClaimContent(note=f"note {number}"))
        book.append_many([claim_rows.new_telling(claim, "opinion", [f"part {number}"])])
        claim_rows.change(book, claim, f"Sentence {number}, again.", claim_rows.ClaimContent(), f"why {number}")
    for name in ("later", "never"):
        drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), trials=4 if name == "later" else 5), name)


class Tampering:
    """A copy in memory of a casebook, changed by somebody who takes the guards away and puts them back."""

    def __init__(self, book: Casebook) -> None:
        self.copy = book.snapshot()
        self.connection: sqlite3.Connection = self.copy.db.conn
        self._guards = self.rows("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        for name, _ in self._guards:
            self.connection.execute(f"DROP TRIGGER {name}")

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        return self.connection.execute(sql, values).fetchall()

    def found(self) -> list[str]:
        """What verify says of it."""
        for _, sql in self._guards:
            self.connection.execute(sql)
        self.connection.commit()
        with self.copy:
            return verification.verify(self.copy).broken


def changed(copy: Casebook, *statements: str) -> None:
    """A copy changed as it lies there, with its guards."""
    for statement in statements:
        copy.db.conn.execute(statement)
    copy.db.conn.commit()


def tables(book: Casebook) -> list[str]:
    rows = book.query("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' ESCAPE '!'")
    return [row["name"] for row in rows]


def keys(connection: sqlite3.Connection, table: str) -> list[str]:
    """What identifies a row: its primary key, or rowid where the table states none."""
    return [row[1] for row in connection.execute(f"PRAGMA table_info({table})") if row[5]] or ["rowid"]


def other(connection: sqlite3.Connection, table: str, column: str, value: Any) -> Any:
    """Another value that the table takes in that place, as like the old one as can be."""
    if (table, column) in OTHER_CHOICES:
        return OTHER_CHOICES[table, column]
    for row in connection.execute(f"PRAGMA foreign_key_list({table})").fetchall():
        if row[3] == column:
            parent = f"SELECT {row[4]} FROM {row[2]} WHERE {row[4]} IS NOT ? LIMIT 1"
            return connection.execute(parent, (value,)).fetchone()[0]
    if isinstance(value, int):
        if column in ("id", "seq"):
            return value + 1_000_000
        return value - 1 if column in ("sureness", "strength", "blind") and value else value + 1
    if isinstance(value, bytes):
        return value[:-1] + bytes([value[-1] ^ 1]) if value else b"x"
    if value is None:
        return '{"seed": 4}' if column == "rehearsal" else 1 if column == "track_ms" else "x"
    if value.startswith(("{", "[")):
        return json.dumps(edited(json.loads(value)))
    return value[:-1] + ("0" if value[-1:] != "0" else "1")


def edited(document: Any) -> Any:
    """A document with its first text or number another."""
    if isinstance(document, dict):
        if not document:
            return {"x": 1}
        first = next(iter(document))
        return document | {first: edited(document[first])}
    if isinstance(document, list):
        return [edited(document[0]), *document[1:]] if document else ["x"]
    return f"{document}x" if isinstance(document, str) else 1 if document is None else document + 1


def changes(book: Casebook, table: str) -> Iterator[tuple[str, str, Tampering]]:
    """Every kind of change of one table: the column (or none), what was done, and the casebook after it."""
    with closing(book.snapshot()) as base:
        connection = base.db.conn
        own = keys(connection, table)
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        rows = connection.execute(f"SELECT {', '.join(own)}, {', '.join(columns)} FROM {table}").fetchall()
        where = f"WHERE {' AND '.join(f'{key} = ?' for key in own)}"
        placed = [(row[: len(own)], dict(zip(columns, row[len(own) :], strict=True))) for row in rows]
        for column in columns:
            update = f"UPDATE {table} SET {column} = ? {where}"
            place, row = placed[0]
            further = row[column] + 50 if isinstance(row[column], int) else f"{row[column]}x"
            values = (other(connection, table, column, row[column]), further)
            changed = first_accepted(book, ([(update, value, *place)] for value in values))
            assert changed is not None, (table, column)
            yield column, "edit", changed
            pairs = ((one, two) for one in placed for two in placed if one[1][column] != two[1][column])
            ways = (way for pair in pairs for way in swaps(update, own, column, *pair))
            swapped = first_accepted(book, islice(ways, MOST_WAYS))
            if swapped is not None:  # otherwise all are alike, or no two can change places
                yield column, "swap", swapped
        deleted = first_accepted(book, [[(f"DELETE FROM {table} {where}", *placed[-1][0])]])
        assert deleted is not None, table
        yield "", "delete", deleted
        yield "", "insert", inserted(book, table, placed[0][1])


def swaps(update: str, own: list[str], column: str, one: Placed, two: Placed) -> Iterator[list[tuple[Any, ...]]]:
    """The statements that swap two cells: at once, or (where the column is unique) with one value aside meanwhile."""
    (place, row), (other_place, other_row) = one, two
    yield [(update, row[column], *other_place), (update, other_row[column], *place)]
    aside = 987_654_321 if isinstance(row[column], int) else b"a" if isinstance(row[column], bytes) else '"a"'
    moved = [aside if key == column else value for key, value in zip(own, place, strict=True)]
    yield [(update, aside, *place), (update, row[column], *other_place), (update, other_row[column], *moved)]


def first_accepted(book: Casebook, attempts: Iterable[list[tuple[Any, ...]]]) -> Tampering | None:
    """The first of some changes that the table takes; None where it takes none."""
    for statements in attempts:
        tampered = Tampering(book)
        try:
            for statement, *values in statements:
                before = tampered.connection.total_changes
                tampered.connection.execute(statement, values)
                assert tampered.connection.total_changes > before, statement
            return tampered
        except sqlite3.IntegrityError:
            tampered.copy.close()
    return None


def inserted(book: Casebook, table: str, row: dict[str, Any]) -> Tampering:
    """The first row once more, with no more changed than lets it in."""
    tampered = Tampering(book)
    copy = dict(row)
    for _ in range(9):
        try:
            tampered.connection.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(copy))})", [*copy.values()])
            return tampered
        except sqlite3.IntegrityError as error:
            taken = str(error).split(": ")[1].split(", ")[-1].split(".")[-1]
            value = copy[taken]
            copy[taken] = value + 100_000 if isinstance(value, int) else f"{value[:-4]}zzzz"
    raise AssertionError(table)


def test_nothing_is_found_where_nothing_was_changed(everything: Casebook) -> None:
    assert Tampering(everything).found() == []


def test_there_are_two_rows_of_every_kind_to_change(everything: Casebook) -> None:
    counted = {table: everything.query(f"SELECT count(*) AS n FROM {table}")[0]["n"] for table in tables(everything)}
    assert {table for table, rows in counted.items() if rows < 2} <= {"casebook", "words_search_config", *EMPTY}
    assert set(schema.PROTECTED) < set(counted)


def test_verify_finds_every_change_but_those_that_may_be_made(everything: Casebook) -> None:
    tried, unnoticed = 0, set()
    for table in set(tables(everything)) - EMPTY:
        for column, what, tampered in changes(everything, table):
            tried += 1
            if not tampered.found():  # nor may it end in a traceback
                unnoticed.add((table, column, what))
    assert tried > 400
    assert {one for one in unnoticed if one[0] not in INNER} == set(MAY_CHANGE)
    assert not {
        one for one in unnoticed if one[0] == "words_search_content" and one[2] != "swap"
    }  # the words themselves


@pytest.mark.parametrize("table", [*sorted(schema.PROTECTED), *schema.MARKED, "secrets", "words_search"])
def test_a_table_that_is_gone_is_named_and_so_is_one_made_otherwise(everything: Casebook, table: str) -> None:
    gone = Tampering(everything)
    gone.connection.execute(f"DROP TABLE {table}")
    found = found_without(gone, table)
    assert any(f"the table {table} was removed" in fault for fault in found), found
    if table == "words_search":
        return
    bare = Tampering(everything)
    bare.connection.execute(f"CREATE TEMP TABLE other AS SELECT * FROM {table}")
    bare.connection.execute(f"DROP TABLE {table}")
    bare.connection.execute(f"CREATE TABLE {table} AS SELECT * FROM other")
    found = bare.found()
    assert any(f"the table {table} was changed" in fault for fault in found), found


def found_without(tampered: Tampering, table: str) -> list[str]:
    tampered._guards = [(name, sql) for name, sql in tampered._guards if f" ON {table} " not in sql]
    try:
        return tampered.found()
    except sqlite3.OperationalError:  # a guard that names the table in its body
        with tampered.copy:
            return verification.verify(tampered.copy).broken


@pytest.mark.parametrize(
    ("statements", "says"),
    [
        (["DROP TRIGGER answers_keep_content"], "the guard answers_keep_content was removed"),
        (
            [
                "DROP TRIGGER trials_keep_rows",
                "CREATE TRIGGER trials_keep_rows BEFORE DELETE ON trials BEGIN SELECT 1; END",
            ],
            "the guard trials_keep_rows was changed",
        ),
        (
            [
                "CREATE TABLE copied (key TEXT)",
                "CREATE TRIGGER spy AFTER INSERT ON trials BEGIN INSERT INTO copied VALUES (NEW.key); END",
            ],
            "the trigger spy on trials is none of earwitness's",
        ),
        (["CREATE TABLE copied (key TEXT)"], "the table copied is none of earwitness's"),
        (["CREATE VIEW peek AS SELECT key FROM trials"], "the view peek is none of earwitness's"),
        (["CREATE INDEX quick ON trials (key)"], "the index quick on trials is none of earwitness's"),
        (["CREATE TRIGGER t AFTER INSERT ON _sqlite_migrations BEGIN SELECT 1; END"], "the trigger t on _sqlite_migr"),
        (["DROP VIEW chain_links", "CREATE VIEW chain_links AS SELECT 1"], "the view chain_links was changed"),
        (["ALTER TABLE setups ADD COLUMN more TEXT"], "the table setups was changed"),
        (["DELETE FROM casebook"], "the casebook's own row is missing"),
        (
            ["INSERT INTO casebook SELECT 'other', made_at, '', 9, '' FROM casebook"],
            "the casebook has 2 rows of its own",
        ),
        (["UPDATE setups SET name = CAST(x'ff' AS TEXT) WHERE name = 'sallow'"], "the table setups cannot be read"),
    ],
)
def test_what_was_done_to_the_file_is_named(everything: Casebook, statements: list[str], says: str) -> None:
    with everything.snapshot() as copy:
        for statement in statements:
            changed(copy, statement)
        found = verification.verify(copy).broken
    assert any(says in fault for fault in found), found


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        (
            "UPDATE setups SET name = 'willow' WHERE name = 'sallow'",
            "setup sallow was changed, against the chain: name",
        ),
        (
            "UPDATE setups SET note = 'better' WHERE name = 'sallow'",
            "setup sallow was changed, against the chain: note",
        ),
        ("DELETE FROM chains", "the playback chain of setup-"),
        ("DELETE FROM listeners WHERE name = 'Bo'", "listener Bo is missing from the catalogue"),
        ("INSERT INTO tracks VALUES ('track-x', 'x', '', 'now')", "track x is in the catalogue; nothing in the chain"),
        ("UPDATE casebook SET id = 'casebook-other'", "the casebook's own row is missing from the catalogue"),
        ("UPDATE recordings SET path = 'elsewhere' WHERE rowid = 1", "was changed, against the chain: path"),
    ],
)
def test_the_catalogue_is_held_by_the_chain(everything: Casebook, statement: str, says: str) -> None:
    with everything.snapshot() as copy:
        changed(copy, statement)
        found = verification.verify(copy).broken
    assert any(says in fault for fault in found), found


OLDER = Path(__file__).parents[2] / "data" / "before-rooms"


@pytest.fixture(scope="module")
def older(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Casebook]]:
    """Casebooks of before the chain held the catalogue: of recordings, and of real gear."""
    opened = {}
    for name, kept in (("files", OLDER), ("gear", OLDER / "gear")):
        folder = tmp_path_factory.mktemp("older")
        shutil.copyfile(kept / FILE_NAME, folder / FILE_NAME)
        opened[name] = open_casebook(folder)
    yield opened
    for casebook in opened.values():
        casebook.close()


@pytest.mark.parametrize(
    ("name", "statement", "says"),
    [
        (
            "files",
            "UPDATE setups SET name = 'oak' WHERE name = 'sallow'",
            "setup oak: name is 'oak' in the catalogue and",
        ),
        ("gear", "UPDATE setups SET kind = 'switched' WHERE name = 'sallow route'", "setup sallow route: kind is"),
        (
            "gear",
            "UPDATE chains SET document = json_set(document, '$.delay_us', 7)",
            "the playback chain of sallow route",
        ),
        ("gear", "DELETE FROM chains", "the playback chain of sallow route is another in the catalogue than in plan"),
        ("files", "UPDATE passages SET start_frame = start_frame + 1", "passage strings 1: start_frame is"),
        ("files", "UPDATE passages SET frames = frames - 1", "passage strings 1: frames is"),
        ("files", "UPDATE recordings SET sha256 = 'ab'", ": sha256 is 'ab' in the catalogue and"),
        ("gear", "UPDATE sources SET sha256 = 'ab'", ": sha256 is 'ab' in the catalogue and"),
        ("files", "DELETE FROM recordings WHERE rowid = 1", "is in match sheet 1 and missing from the catalogue"),
        ("files", "UPDATE listeners SET name = 'Eve' WHERE name = 'Bo'", "listener Eve: name is 'Eve'"),
        ("files", "DELETE FROM listeners WHERE name = 'Bo'", "listener Bo is in plan abx-panel and missing"),
        ("files", "DELETE FROM tracks WHERE name = 'drums'", "that name an entry of tracks which is not there"),
    ],
)
def test_an_older_catalogue_is_compared_with_the_sealed_documents(
    older: dict[str, Casebook], name: str, statement: str, says: str
) -> None:
    with older[name].snapshot() as copy:
        changed(copy, statement)
        found = verification.verify(copy).broken
    assert any(says in fault for fault in found), found


def test_an_older_casebook_holds_and_says_how_much_of_it_is_older(older: dict[str, Casebook]) -> None:
    casebook = older["gear"]
    entries = sum(casebook.query(f"SELECT count(*) AS n FROM {part}")[0]["n"] for part in schema.MARKED)
    found = verification.verify(casebook)
    assert (found.broken, found.older_entries) == ([], entries)


def test_with_its_next_entry_an_older_catalogue_is_held_as_it_was_found(older: dict[str, Casebook]) -> None:
    with older["files"].snapshot() as copy:
        before = verification.verify(copy)
        catalogue.keep(copy, catalogue.new_track(copy, "new"))
        after = verification.verify(copy, published_head=before.head)
        assert (after.broken, after.older_entries) == ([], before.older_entries)
        assert after.rows == before.rows + before.older_entries + 1
        changed(copy, "UPDATE tracks SET note = 'x' WHERE name = 'drums'")
        assert verification.verify(copy).broken == ["track drums was changed, against the chain: note"]


def test_a_later_change_of_a_name_is_no_fault_where_the_chain_holds_it(everything: Casebook) -> None:
    with everything.snapshot() as copy:
        sallow = catalogue.find(copy, Setup, "sallow")
        with copy.writing():
            copy.db.conn.execute("UPDATE setups SET name = 'willow' WHERE id = ?", [sallow.id])
            copy.mark("setups", sallow.id, "changed")
        assert verification.verify(copy).broken == []


def test_each_kind_of_entry_has_its_link_and_the_casebook_its_first(tmp_path: Path) -> None:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "alder", "gear", playback_chain.routed("box:1,2"))
        catalogue.add_listener(casebook, "Ada")
        links = [(row["part"], row["what"]) for _, row in chained_rows(casebook)]
        assert links == [("casebook", "added"), ("setups", "added"), ("chains", "added"), ("listeners", "added")]


@pytest.mark.parametrize("table", [*sorted(schema.PROTECTED), *schema.MARKED])
def test_no_verdict_stands_and_none_ends_in_a_traceback_where_rows_are_gone(
    everything: Casebook, left_out: list[str], table: str
) -> None:
    emptied = Tampering(everything)
    emptied.connection.execute(f"DELETE FROM {table}")
    emptied.connection.commit()
    with emptied.copy:
        found = review.review(emptied.copy)
    assert found.checked.broken != []
    verdicts = {one.verdict.verdict for one in found.plans}
    assert not {"heard", "not shown"} & verdicts, verdicts
    left_out.clear()  # what could not be judged said so


@pytest.fixture
def own(everything: Casebook, tmp_path: Path) -> Iterator[Casebook]:
    """A copy of the whole folder, to spoil."""
    shutil.copytree(everything.folder, tmp_path / "own")
    with open_casebook(tmp_path / "own") as book:
        yield book


@pytest.mark.parametrize("plan", ["evening", "running", "held"])
@pytest.mark.parametrize("content", [None, "", "ab" * 32, "ab" * 31, "no digits", "\udcff"])
def test_a_secret_that_is_gone_or_another_is_told_with_its_place(own: Casebook, plan: str, content: str | None) -> None:
    path = secret_file(own, plan)
    if content is None:
        path.unlink()
    else:
        path.write_text(content, encoding="utf-8", errors="surrogateescape")
    found = verification.verify(own)
    if content == "ab" * 32:
        assert found.broken == [f"plan {plan}: the plan and its kept secret do not give the seal"]
    else:
        assert found.broken == []
        assert [str(path) in one and "put back the folder" in one for one in found.without_secret] == (
            [True] if plan == "running" else []  # the others are over: their openings tell it
        )
    assert found.ok == (plan != "running" and content != "ab" * 32)


def test_a_casebook_without_its_secrets_keeps_the_verdicts_of_what_is_over(own: Casebook) -> None:
    before = {one.sealed.plan.name: one.verdict.verdict for one in review.review(own).plans}
    shutil.rmtree(own.folder / secret_files.FOLDER)
    assert {one.sealed.plan.name: one.verdict.verdict for one in review.review(own).plans} == before
    found = verification.verify(own)
    running = ["plan running", "plan drawn", "plan drawn again"]
    assert (found.broken, [one.split(":")[0] for one in found.without_secret]) == ([], running)


def test_a_secret_put_into_the_old_table_is_told_and_never_takes_the_place_of_the_kept_one(own: Casebook) -> None:
    plan, secret = seals.sealed_plan(own, "running").plan, secret_of(own, "running")
    own.insert("secrets", {"plan_id": plan.id, "secret": "cd" * 32})
    with open_casebook(own.folder) as again:
        assert verification.verify(again).broken == [
            "plan running: another secret stands in the casebook's table of secrets, where none belongs any more"
        ]
    assert secret_of(own, "running") == secret


def forged(book: Casebook, *rows: NewRow) -> list[str]:
    """What verify says of rows that somebody appended by our own means, so that every hash fits."""
    with book.snapshot() as copy:
        copy.append_many(rows)
        return verification.verify(copy).broken


def test_keys_told_too_early_too_late_twice_or_with_their_trial_are_named(own: Casebook) -> None:
    trials = {
        name: session_rows.trials(own, seals.sealed_plan(own, name).plan.id)
        for name in ("evening", "running", "closed")
    }
    key = {"A": 0, "B": 1, "X": 0}
    early = forged(own, session_rows.new_key(trials["running"][0].id, key))
    assert "plan running: the key of trial 1 (offer 1) stands in a row before the plan's opening" in early
    assert any("another key than its coin" in fault for fault in early)
    of_session = trials["closed"][0].session_id
    with_trial = session_rows.new_trial(of_session, 2, 1, trials["closed"][0].passage_id, {"1": 0, "2": 1})
    told = forged(own, with_trial)
    assert "plan closed: trial 2 (offer 1) was written with its key, before the plan's opening" in told
    twice = forged(own, with_trial, session_rows.new_key(with_trial.id, {"1": 0, "2": 1}))
    assert "plan closed: the key of trial 2 (offer 1) stands there twice" in twice
    bare = session_rows.new_trial(of_session, 2, 1, trials["closed"][0].passage_id, None)
    assert "plan closed: trial 2 (offer 1) of Bo has no key" in forged(own, bare)
    late = forged(own, bare, session_rows.new_key(bare.id, {"1": 0, "2": 1}))
    assert "plan closed: the key of trial 2 (offer 1) was not written with the plan's opening" in late


def test_a_second_secret_told_too_early_or_for_no_plan_is_named(own: Casebook) -> None:
    def second_of(name: str) -> NewRow:
        return new_row("second_hands", "second", {"plan_id": seals.sealed_plan(own, name).plan.id, "secret": "x"})

    assert any(
        "second secret stands in the record before its opening" in one for one in forged(own, second_of("running"))
    )
    assert any("not the one that the plan was sealed with" in one for one in forged(own, second_of("evening")))
