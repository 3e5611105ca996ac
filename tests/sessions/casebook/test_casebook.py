"""The casebook on a real file: what it keeps, what it refuses, what it finds."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sessions.casebook import database, hash_chain, schema, store
from sessions.casebook.nearest_casebook import find
from sessions.casebook.store import FILE_NAME, Casebook, NewRow, create, open_casebook
from sessions.errors import CasebookBusy, CasebookError, CasebookFull
from sessions.results import verification
from tests.casebooks import chained_rows


def broken(casebook: Casebook) -> list[str]:
    return list(verification.verify(casebook).broken)


def tamper(casebook: Casebook, *statements: str) -> None:
    """Change the file as someone would who takes the guards away and puts them back."""
    file = casebook.folder / FILE_NAME
    with sqlite3.connect(file) as connection:
        guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, sql in guards:
            connection.execute(sql)
    connection.close()


@pytest.fixture
def filled(tmp_path: Path) -> Casebook:
    casebook = create(tmp_path / "book")
    for number in range(2, 7):  # after the row that says which casebook it is
        casebook.append("checks", "check", {"document": f'{{"n": {number}}}'})
    return casebook


def test_a_new_casebook_holds_and_its_chain_begins_with_what_it_is(tmp_path: Path) -> None:
    with create(tmp_path / "book") as casebook:
        found = verification.verify(casebook)
        assert (found.ok, found.rows, found.older_entries) == (True, 1, 0)
        ((table, first),) = chained_rows(casebook)
        assert (table, first["part"], first["entry"]) == ("catalogue_marks", "casebook", casebook.head()["id"])
        assert (first["prior"], first["hash"]) == (hash_chain.START, found.head)


def test_it_writes_as_the_design_asks(filled: Casebook) -> None:
    assert filled.query("PRAGMA synchronous")[0]["synchronous"] == 3  # EXTRA
    assert filled.query("PRAGMA journal_mode")[0]["journal_mode"] == "delete"
    assert filled.query("PRAGMA foreign_keys")[0]["foreign_keys"] == 1
    tables = filled.query("SELECT name FROM pragma_table_list WHERE strict = 0 AND schema = 'main' AND type = 'table'")
    ours = {row["name"] for row in tables if not row["name"].startswith(("sqlite_", "_sqlite", "words_search"))}
    assert ours == set()


def test_each_hash_is_the_one_the_rule_states(filled: Casebook) -> None:
    import hashlib
    import json

    prior = "0" * 64
    for table, row in chained_rows(filled):
        content = {key: value for key, value in row.items() if key != "hash"} | {"table": table}
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert row["prior"] == prior
        assert row["hash"] == hashlib.sha256((prior + text).encode()).hexdigest()
        prior = row["hash"]
    assert filled.head()["head_hash"] == prior


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE checks SET document = '{}' WHERE seq = 2", "edited"),
        ("UPDATE checks SET at = '2020-01-01T00:00:00.000Z' WHERE seq = 6", "edited"),
        ("DELETE FROM checks WHERE seq = 3", "row 3 is missing"),
        ("DELETE FROM checks WHERE seq = 6", "its stated end is row 6"),
        ("DELETE FROM checks WHERE seq IN (2, 3)", "rows 2 to 3 are missing"),
        ("INSERT INTO checks SELECT 'check-x', 7, hash, 'ff', at, document FROM checks WHERE seq = 6", "edited"),
    ],
)
def test_verify_finds_a_row_that_was(filled: Casebook, statement: str, says: str) -> None:
    assert broken(filled) == []
    tamper(filled, statement)
    assert any(says in fault for fault in broken(filled)), broken(filled)


def test_verify_finds_rows_that_changed_places(filled: Casebook) -> None:
    tamper(
        filled,
        "UPDATE checks SET seq = 99 WHERE seq = 2",
        "UPDATE checks SET seq = 2 WHERE seq = 4",
        "UPDATE checks SET seq = 4 WHERE seq = 99",
    )
    assert any("reordered" in fault for fault in broken(filled))


def test_a_published_head_finds_a_chain_that_was_written_anew(filled: Casebook) -> None:
    published = filled.head()["head_hash"]
    assert verification.verify(filled, published).ok
    tamper(filled, "DELETE FROM checks WHERE seq = 6")
    with sqlite3.connect(filled.folder / FILE_NAME) as connection:
        last = connection.execute("SELECT seq, hash FROM checks ORDER BY seq DESC LIMIT 1").fetchone()
        connection.execute("UPDATE casebook SET head_seq = ?, head_hash = ?", last)
    connection.close()
    assert verification.verify(filled).ok  # whoever can write the file can write its end too
    assert any("published chain hash" in fault for fault in verification.verify(filled, published).broken)


@pytest.mark.parametrize("table", sorted(schema.PROTECTED))
def test_nothing_in_a_protected_table_is_changed_deleted_or_replaced(sealed: Casebook, table: str) -> None:
    file = sealed.folder / FILE_NAME
    with sqlite3.connect(file) as connection:  # a plain connection: foreign keys and recursive triggers off
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        row = connection.execute(f"SELECT * FROM {table}").fetchone()
        if row is None:
            choices = CHOICES | OTHERWISE.get(table, {})
            fillers = [1 if c in NUMBERS else choices.get(c, "{}" if c in DOCUMENTS else c) for c in columns]
            row = tuple(9000 if c == "seq" else f for c, f in zip(columns, fillers, strict=True))
            connection.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
        marks = ", ".join("?" * len(row))
        for attempt in (f"UPDATE {table} SET at = 'x'", f"DELETE FROM {table}"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                connection.execute(attempt)
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            connection.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", row)
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            connection.execute(f"REPLACE INTO {table} VALUES ({marks})", ("other", *row[1:]))
    connection.close()


NUMBERS = {"seq", "trial", "offer", "sureness", "after_ms", "from_frame", "to_frame", "count", "strength", "blind"}
NUMBERS |= {
    "answers",
    "from_ms",
    "to_ms",
    "track_ms",
    "heard_ms",
    "level_dba_hundredths",
    "angle",
    "sessions",
    "boots",
    "clock_steps",
    "size",
    "changed",
    "named",
    "rows",
}
DOCUMENTS = {"document", "key", "rehearsal", "conditions", "heard"}
CHOICES = {"what": "begun", "plane": "horizontal", "standing": "shown"}
OTHERWISE = {"curves": {"kind": "response"}, "witnesses": {"what": "seal"}, "lexicon_changes": {"kind": "add"}}


def test_a_removed_guard_is_found(filled: Casebook) -> None:
    with sqlite3.connect(filled.folder / FILE_NAME) as connection:
        connection.execute("DROP TRIGGER answers_keep_content")
    connection.close()
    assert any("answers_keep_content" in fault for fault in broken(filled))


def test_a_transaction_is_kept_whole_or_not_at_all(filled: Casebook) -> None:
    with pytest.raises(RuntimeError, match="stop"), filled.writing():
        filled.append("checks", "check", {"document": "{}"})
        raise RuntimeError("stop")
    assert filled.head()["head_seq"] == 6
    assert broken(filled) == []


def test_every_acknowledged_row_survives_a_kill(tmp_path: Path) -> None:
    create(tmp_path / "book").close()
    program = """
import sys
from pathlib import Path
from sessions.casebook.store import open_casebook
casebook = open_casebook(Path(sys.argv[1]))
while True:
    print(casebook.append("checks", "check", {"document": "{}"})["seq"], flush=True)
"""
    for _ in range(3):
        child = subprocess.Popen(
            [sys.executable, "-c", program, str(tmp_path / "book")], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        acknowledged = [int(child.stdout.readline()) for _ in range(20)]
        child.kill()
        acknowledged += [int(line) for line in child.stdout.read().split("\n")[:-1]]
        child.stdout.close()
        child.wait()
        with open_casebook(tmp_path / "book") as casebook:
            assert casebook.head()["head_seq"] >= acknowledged[-1]
            assert broken(casebook) == []


def test_an_older_casebook_is_upgraded_after_a_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    create(tmp_path / "book").close()
    later = (*schema.STEPS, ("0002_later", "CREATE TABLE later (id TEXT PRIMARY KEY NOT NULL) STRICT;"))
    monkeypatch.setattr(schema, "STEPS", later)
    moment = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
    with open_casebook(tmp_path / "book", lambda: moment) as casebook:
        assert casebook.query("SELECT name FROM sqlite_master WHERE name = 'later'")
    copies = list((tmp_path / "book").glob("casebook-before-upgrade-2026-11-25T120000*.db"))
    assert len(copies) == 1
    with sqlite3.connect(copies[0]) as connection:
        assert not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'later'").fetchall()
    connection.close()
    monkeypatch.undo()
    with pytest.raises(CasebookError, match="newer earwitness"):
        open_casebook(tmp_path / "book")


def test_a_failing_upgrade_leaves_the_old_casebook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    create(tmp_path / "book").close()
    bad = (*schema.STEPS, ("0002_bad", "CREATE TABLE good (id TEXT) STRICT; CREATE TABLE broken (id NOTATYPE) STRICT;"))
    monkeypatch.setattr(schema, "STEPS", bad)
    with pytest.raises(CasebookError, match=r"casebook\.db"):
        open_casebook(tmp_path / "book")
    monkeypatch.undo()
    with open_casebook(tmp_path / "book") as casebook:
        assert not casebook.query("SELECT name FROM sqlite_master WHERE name = 'good'")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"not a database at all, but long enough to be one" * 40, "damaged or no casebook"),
        (b"", "not an earwitness casebook"),
    ],
)
def test_a_file_that_is_no_casebook_is_said_to_be_none(tmp_path: Path, content: bytes, says: str) -> None:
    (tmp_path / FILE_NAME).write_bytes(content)
    with pytest.raises(CasebookError, match=says):
        open_casebook(tmp_path)


def test_a_full_disk_loses_nothing_and_is_said(filled: Casebook) -> None:
    pages = filled.query("PRAGMA page_count")[0]["page_count"]
    filled.query(f"PRAGMA max_page_count = {pages}")  # SQLite's own way to run out of room
    with pytest.raises(CasebookFull, match=r"disk of .* is full"):
        for _ in range(100):
            filled.append("checks", "check", {"document": '"' + "x" * 1000 + '"'})
    assert broken(filled) == []


def test_a_read_only_casebook_can_be_read_and_says_why_it_is_not_written(filled: Casebook) -> None:
    folder = filled.folder
    filled.close()
    with store.Casebook(folder, database.connect(folder / FILE_NAME, read_only=True), store.utc_now) as casebook:
        assert verification.verify(casebook).ok
        with pytest.raises(CasebookError, match="read-only; nothing was written"):
            casebook.append("checks", "check", {"document": "{}"})


def test_a_casebook_that_was_moved_away_while_open_says_so(filled: Casebook) -> None:
    folder = filled.folder
    folder.rename(folder.with_name("elsewhere"))
    with pytest.raises(CasebookError, match="is gone from there") as refused:
        filled.append("checks", "check", {"document": "{}"})
    assert "read-only" not in str(refused.value)


def test_many_rows_are_the_same_links_as_one_after_the_other(tmp_path: Path) -> None:
    def clock() -> datetime:
        return datetime(2026, 3, 1, tzinfo=UTC)

    listener = ("listeners", {"id": "listener-a", "name": "Ada", "note": "", "added_at": "-"})
    begun = {"plan_id": None, "listener_id": "listener-a", "operator": "Ada", "rehearsal": None, "device": "none"}
    rows = [NewRow("checks", f"check-{n}", {"document": f'{{"n": {n}}}'}) for n in range(3)]
    rows.append(NewRow("sessions", "session-a", begun))
    rows.append(NewRow("session_marks", "mark-a", {"session_id": "session-a", "what": "begun", "note": ""}))
    rows.append(NewRow("checks", "check-3", {"document": '"é"'}))
    with create(tmp_path / "one", clock) as casebook:
        casebook.insert(*listener)
    shutil.copytree(tmp_path / "one", tmp_path / "many")
    with open_casebook(tmp_path / "one", clock) as one, open_casebook(tmp_path / "many", clock) as many:
        single = [one.append(row.table, "", row.content, row_id=row.id) for row in rows]
        assert many.append_many(rows) == single
        assert list(chained_rows(many)) == list(chained_rows(one))
        assert many.append_many([]) == []
        assert broken(many) == []


def test_many_rows_are_kept_together_or_not_at_all(filled: Casebook) -> None:
    rows = [store.new_row("checks", "check", {"document": text}) for text in ("{}", "no JSON")]
    before = filled.head()
    with pytest.raises(CasebookError, match="CHECK constraint failed"):
        filled.append_many(rows)
    assert filled.head() == before
    assert broken(filled) == []


def test_another_writer_is_waited_for_and_then_named(filled: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 50)
    other = sqlite3.connect(filled.folder / FILE_NAME, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_casebook(filled.folder) as casebook:
        with pytest.raises(CasebookBusy, match="in use by another program"):
            casebook.append("checks", "check", {"document": "{}"})
        other.execute("ROLLBACK")
        assert casebook.append("checks", "check", {"document": "{}"})["seq"] == 7  # the same call, made again
    other.close()


def test_the_nearest_casebook_upwards_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    create(tmp_path / "book").close()
    deep = tmp_path / "book" / "a" / "b"
    deep.mkdir(parents=True)
    assert find(None, deep) == tmp_path / "book"
    shutil.rmtree(tmp_path / "book")
    with pytest.raises(CasebookError, match="no casebook in"):
        find(None, tmp_path)
    monkeypatch.setenv("EARWITNESS_CASEBOOK", str(tmp_path / "other"))
    with pytest.raises(CasebookError, match="earwitness new"):
        find(None, tmp_path)
