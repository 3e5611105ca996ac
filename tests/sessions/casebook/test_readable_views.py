"""Views for general SQLite browsers: a plain connection reads names, units, resolved references, and no key early."""

from __future__ import annotations

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from sessions.casebook import catalogue, catalogue_changes, readable_views, schema
from sessions.casebook.catalogue import Listener, Setup, Track
from sessions.casebook.store import FILE_NAME, Casebook, open_casebook
from sessions.listening import session
from sessions.plans import plan_rows
from sessions.results import verification
from sessions.words import log
from tests.answered_plans import answer_all

KEPT = Path(__file__).parents[2] / "data" / "before-rooms" / "casebook.db"
OF_SEVERAL_TABLES = {("origin_links", "row_id"), ("brought_in", "row_id")}


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook of before the views, upgraded."""
    folder = tmp_path_factory.mktemp("old")
    shutil.copyfile(KEPT, folder / FILE_NAME)
    open_casebook(folder).close()
    return folder


def rows(folder: Path, sql: str) -> list[dict[str, Any]]:
    """What any program that knows SQLite reads."""
    with closing(sqlite3.connect(f"{(folder / FILE_NAME).as_uri()}?mode=ro", uri=True)) as connection:
        connection.row_factory = sqlite3.Row
        return [dict(row) for row in connection.execute(sql)]


def test_an_older_casebook_gets_every_view_and_still_holds(old: Path) -> None:
    there = {row["name"] for row in rows(old, "SELECT name FROM sqlite_master WHERE type = 'view'")}
    assert there == {*readable_views.NAMES, "chain_links"}
    for name in readable_views.NAMES:
        rows(old, f"SELECT * FROM {name}")
    with open_casebook(old) as book:
        assert verification.verify(book).broken == []


def test_a_view_has_a_row_for_each_row_it_tells_of(old: Path) -> None:
    for view, table in (("plans", "plans"), ("sessions", "sessions"), ("turns", "session_marks"), ("trials", "trials"),
                        ("auditions", "auditions"), ("words", "words"), ("passages", "passages"),
                        ("recordings", "recordings"), ("curves", "curves")):  # fmt: skip
        [counted] = rows(old, f"SELECT (SELECT count(*) FROM readable_{view}) AS told, count(*) AS kept FROM {table}")
        assert counted["told"] == counted["kept"] > 0, view


def test_every_reference_of_every_table_is_declared_and_resolves(old: Path) -> None:
    assert rows(old, "PRAGMA foreign_key_check") == []
    tables = rows(old, "SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%STRICT'")
    assert {row["name"] for row in tables} >= {*schema.PROTECTED, *schema.MARKED}
    for table in (row["name"] for row in tables):
        declared = {row["from"] for row in rows(old, f"SELECT * FROM pragma_foreign_key_list('{table}')")}
        named = {row["name"] for row in rows(old, f"SELECT * FROM pragma_table_info('{table}')")}
        named = {name for name in named if name.endswith("_id") and (table, name) not in OF_SEVERAL_TABLES}
        assert named <= declared, table


def test_columns_of_views_say_their_units(old: Path) -> None:
    bare = re.compile(r"(^|_)(at|ms|hz|frame|frames|seconds|level|angle|strength|sureness|length)$")
    for view in readable_views.NAMES:
        for row in rows(old, f"SELECT * FROM pragma_table_info('{view}')"):
            found = bare.search(row["name"])
            assert not found or found[2] in ("ms", "hz", "frame"), (view, row["name"])


def test_a_key_is_shown_once_its_plan_is_over_and_no_secret_ever_is(old: Path) -> None:
    with open_casebook(old) as book:
        over = plan_rows.openings(book)
        secrets = [plan_rows.secret(book, one.plan.id).hex() for one in plan_rows.every_sealed(book)]
    told = rows(old, "SELECT plan_id, kind, key_once_over FROM readable_trials")
    running = [row["key_once_over"] for row in told if row["kind"] == "counts" and row["plan_id"] not in over]
    assert len(running) >= 3
    assert set(running) == {None}
    assert all(row["key_once_over"] for row in told if row["plan_id"] in over)
    every = [str(row) for view in readable_views.NAMES for row in rows(old, f"SELECT * FROM {view}")]
    assert not any(secret in text for secret in secrets for text in every)


@pytest.fixture
def filled(sealed: Casebook) -> Casebook:
    ada, setup = catalogue.find(sealed, Listener, "Ada"), catalogue.find(sealed, Setup, "sallow")
    track = catalogue.everything(sealed, Track)[0]
    first = log.log(sealed, ada, log.Word("bright", 4, 61_500, setup_id=setup.id, track_id=track.id))
    log.log(sealed, ada, log.Word("glassy", 2, 61_500, setup_id=setup.id, track_id=track.id, corrects=first.id))
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        running.answer(offered, "A", 2, 1234)
    return sealed


def test_what_was_kept_stands_there_by_name_and_unit(filled: Casebook) -> None:
    book = filled.folder
    [first, second] = rows(book, "SELECT * FROM readable_words")
    assert (first["listener"], first["setup"], first["term"], first["strength_1_to_5"]) == (
        "Ada",
        "sallow",
        "bright",
        4,
    )
    assert (first["in_track_s"], first["said"], first["corrected_by_word_id"]) == (61.5, "sighted", second["word_id"])
    [plan] = rows(book, "SELECT * FROM readable_plans")
    assert (plan["plan"], plan["method"], plan["trials_each"], plan["opened_at_utc"]) == ("evening", "abx", 8, None)
    [trial] = rows(book, "SELECT * FROM readable_trials")
    assert (trial["answer"], trial["answered_after_ms"], trial["sureness_1_to_4"]) == ("A", 1234, 2)
    assert trial["key_once_over"] is None
    passages = rows(book, "SELECT * FROM readable_passages")
    assert {(row["start_s"], row["length_s"]) for row in passages} == {(0.0, 4.0)}
    [sat] = rows(book, "SELECT * FROM readable_sessions")
    assert (sat["listener"], sat["plan"], sat["kind"], sat["answers"]) == ("Ada", "evening", "counts", 1)
    answer_all(filled, 1.0)
    assert all(row["key_once_over"] for row in rows(book, "SELECT key_once_over FROM readable_trials"))


def test_a_name_that_is_changed_is_the_new_one_in_every_view(filled: Casebook) -> None:
    ada = catalogue.find(filled, Listener, "Ada")
    catalogue_changes.change(filled, "listeners", ada.id, {"name": "Ada L."})
    for view in ("words", "trials", "sessions", "turns"):
        assert {row["listener"] for row in rows(filled.folder, f"SELECT listener FROM readable_{view}")} == {"Ada L."}
