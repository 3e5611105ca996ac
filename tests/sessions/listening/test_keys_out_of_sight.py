"""While a plan runs no row and no byte of the casebook tells a key of a trial that was offered."""

from __future__ import annotations

import json
import shutil
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from sessions.casebook import hash_chain, secret_files
from sessions.casebook.store import FILE_NAME, Casebook, open_casebook
from sessions.listening import session
from sessions.listening.session import Offered
from sessions.plans.methods.method import Key
from sessions.plans.methods.table import METHODS
from sessions.plans.seals import sealed_plan as found_plan
from tests.answered_plans import WISHES, answer_all, sealed_plan


def offered_keys(book: Casebook) -> list[tuple[int, int, Key]]:
    """Half of a plan's trials taken, each disturbed once, the session left and taken up again; its keys by offer."""
    keys = []
    for turn in range(2):
        with session.begin(book, "evening", "Ada", "none: test") as running:
            for number in range(running.plan.slots // 4 + turn):
                for disturbed in (True, False):
                    offered = running.next_trial()
                    assert offered is not None
                    keys.append((offered.trial, offered.offer, offered.key))
                    if disturbed:
                        running.fault(offered, "underruns", 1, "late")
                if turn or number:
                    running.audition(offered, next(iter(offered.key)), 0, 100)
                    running.answer(offered, answer_of(running, offered), 2, 900)
                else:
                    break  # this one stands open when the session is left, and comes back with its key
    return keys


def answer_of(running: session.Session, offered: Offered) -> str:
    """An answer that the method takes, the same for every key."""
    if running.plan.method.name in ("hidden-reference", "multi-stimulus"):
        labels = running.plan.method.graded
        grade = "4.0" if running.plan.method.name == "hidden-reference" else "80"
        grades = dict.fromkeys(labels, grade)
        best = "5.0" if running.plan.method.name == "hidden-reference" else "100"
        return json.dumps(grades | {labels[0]: best})
    if running.plan.method.asks_words:
        return '{"1":["bright"],"2":[]}'
    return next(iter(running.plan.method.answers))


def texts_of(key: Key) -> set[str]:
    """Each way in which its JSON could be written."""
    orders = [dict(order) for order in permutations(key.items())] if len(key) < 5 else [key]
    return {text for one in orders for text in (json.dumps(one), hash_chain.canonical(one))}


def everything_written(book: Casebook) -> tuple[str, bytes]:
    """Every cell of every table as text, and the bytes of every file but the secret's own."""
    tables = [row["name"] for row in book.query("SELECT name FROM sqlite_master WHERE type = 'table'")]
    cells = [repr(value) for table in tables for row in book.query(f"SELECT * FROM {table}") for value in row.values()]
    files = [path for path in sorted(book.folder.rglob("*")) if path.is_file() and path.suffix != ".wav"]
    own = book.folder / secret_files.FOLDER
    assert book.folder / FILE_NAME in files
    return "\n".join(cells), b"".join(path.read_bytes() for path in files if own not in path.parents)


@pytest.mark.parametrize("method", METHODS)
def test_no_row_and_no_byte_tells_a_key_while_the_plan_runs(three_setups: Path, tmp_path: Path, method: str) -> None:
    columns: list[list[Any]] = []
    told: list[list[tuple[int, int, Key]]] = []
    for number in range(2):  # two secrets
        shutil.copytree(three_setups, tmp_path / f"book{number}")
        with open_casebook(tmp_path / f"book{number}") as book:
            # of few trials all may be alike by chance
            plan = sealed_plan(
                book, method=method, **WISHES[method] | ({"trials": 40} if method == "preference" else {})
            )
            keys = offered_keys(book)
            assert len({str(key) for *_, key in keys}) > 1
            rows, content = everything_written(book)
            for *_, key in keys:
                for text in texts_of(key):
                    assert text not in rows
                    assert text.encode() not in content
            columns.append(book.query("SELECT trial, offer, key FROM trials ORDER BY seq"))
            assert book.query("SELECT * FROM keys") == []
            secret = secret_files.read(book.folder, plan.id)
            assert secret is not None
            assert secret.hex() not in rows
            assert secret.hex().encode() not in content
            assert secret not in content
            told.append(keys)
    assert columns[0] == columns[1]  # whatever the secrets are
    assert {row["key"] for row in columns[0]} == {"null"}
    assert told[0] != told[1]


@pytest.mark.parametrize("method", METHODS)
def test_the_opening_tells_each_key_once_just_before_it(three_setups: Path, tmp_path: Path, method: str) -> None:
    shutil.copytree(three_setups, tmp_path / "book")
    with open_casebook(tmp_path / "book") as book:
        sealed_plan(book, method=method, **WISHES[method])
        keys = offered_keys(book)
        answer_all(book, 1.0)
        rows = book.query(
            "SELECT trial, offer, keys.key, keys.seq FROM keys JOIN trials ON trials.id = trial_id ORDER BY keys.seq"
        )
        known = {(row["trial"], row["offer"]): json.loads(row["key"]) for row in rows}
        assert all(known[trial, offer] == key for trial, offer, key in keys)
        assert len(rows) == book.query("SELECT count(*) AS n FROM trials")[0]["n"]
        (opening,) = book.query("SELECT seq FROM openings")
        assert [row["seq"] for row in rows] == list(range(opening["seq"] - len(rows), opening["seq"]))


def test_a_rehearsal_tells_its_keys_at_once_for_it_never_counts(sealed: Casebook) -> None:
    plan = found_plan(sealed, "evening").plan
    from sessions.casebook import catalogue
    from sessions.casebook.catalogue import Listener

    ada = catalogue.find(sealed, Listener, "Ada")
    practice = session.Rehearsal(session.PRACTICE, 3)
    with session.begin_rehearsal(sealed, plan, ada, practice, "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
    (row,) = sealed.query("SELECT key FROM trials")
    assert json.loads(row["key"]) == offered.key
