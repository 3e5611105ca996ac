"""Several threads write in one transaction: each is told what it wrote once it is on disk, and fails by itself."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, closing, nullcontext
from pathlib import Path

import pytest

from sessions.casebook.group_commit import GroupCommit
from sessions.casebook.store import FILE_NAME, Casebook, create, open_casebook
from sessions.errors import CasebookBusy
from tests.casebooks import chain_holds, held

THREADS = 20
BUSY_TIMEOUT_MS = 250
WITNESS = {"what": "end", "code": "0", "by": "Ada"}

KILLED = """
import sys, threading
from pathlib import Path
from sessions.casebook.group_commit import GroupCommit
from sessions.casebook.store import open_casebook
group, says = GroupCommit(), threading.Lock()
def write():
    with open_casebook(Path(sys.argv[1])) as casebook, casebook.together(group):
        while True:
            row = casebook.append("witnesses", "witness", {"what": "end", "code": "0", "by": "Ada"})
            with says:
                print(row["id"], flush=True)
for _ in range(8):
    threading.Thread(target=write).start()
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    create(tmp_path / "book").close()
    return tmp_path / "book"


def at_once(
    folder: Path,
    group: GroupCommit,
    work: Callable[[Casebook, int], object],
    meanwhile: AbstractContextManager[None] | None = None,
    threads: int = THREADS,
) -> list[object]:
    """What many threads do at the same moment, each with a casebook of its own; errors as they were raised."""
    opened, begun = threading.Barrier(threads + 1), threading.Barrier(threads + 1)

    def one(number: int) -> object:
        with open_casebook(folder) as casebook, casebook.together(group):
            casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
            opened.wait()
            begun.wait()
            try:
                return work(casebook, number)
            except (CasebookBusy, ValueError) as error:
                return error

    with ThreadPoolExecutor(threads) as pool:
        found = [pool.submit(one, number) for number in range(threads)]
        opened.wait()
        with meanwhile or nullcontext():
            begun.wait()
            return [each.result() for each in found]


def append(casebook: Casebook, number: int) -> object:
    return casebook.append("witnesses", "witness", WITNESS)["id"]


def kept(folder: Path) -> list[str]:
    with open_casebook(folder) as casebook:
        assert chain_holds(casebook)
        return [row["id"] for row in casebook.query("SELECT id FROM witnesses ORDER BY seq")]


def commits(group: GroupCommit, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for each commit that the group makes."""
    made, before = list[int](), GroupCommit._commit

    def counted(self: GroupCommit, batch: object) -> None:
        made.append(1)
        before(self, batch)  # type: ignore[arg-type]

    monkeypatch.setattr(GroupCommit, "_commit", counted)
    return made


def test_rows_that_wait_for_one_commit_share_the_next_and_each_is_kept_once(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = GroupCommit()
    made = commits(group, monkeypatch)
    with group.joined(folder / FILE_NAME):
        group._turn.acquire()  # as while a commit is on its way
        threading.Timer(0.5, group._turn.release).start()
        found = at_once(folder, group, append)
    assert sorted(map(str, found)) == sorted(kept(folder))
    assert len(set(found)) == THREADS
    assert len(made) <= 3


def test_nobody_is_told_before_the_commit_is_on_disk(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen, lock = list[int](), threading.Lock()

    def look(casebook: Casebook, number: int) -> object:
        row = append(casebook, number)
        with lock, closing(sqlite3.connect(folder / FILE_NAME)) as fresh:
            fresh.execute("PRAGMA busy_timeout = 5000")
            seen.append(fresh.execute("SELECT count(*) FROM witnesses WHERE id = ?", [row]).fetchone()[0])
        return row

    at_once(folder, GroupCommit(), look, threads=6)
    assert seen == [1] * 6


def test_a_part_that_fails_takes_nothing_of_the_others_back(folder: Path) -> None:
    def every_third_fails(casebook: Casebook, number: int) -> object:
        with casebook.writing():
            row = append(casebook, number)
            if number % 3 == 0:
                raise ValueError("not this one")
            return row

    found = at_once(folder, GroupCommit(), every_third_fails)
    assert [isinstance(one, ValueError) for one in found] == [number % 3 == 0 for number in range(THREADS)]
    assert sorted(kept(folder)) == sorted(one for one in found if isinstance(one, str))


@pytest.mark.parametrize("how", ["IMMEDIATE", "EXCLUSIVE", "DEFERRED"])
def test_while_another_program_holds_the_casebook_all_are_refused_soon_and_can_write_afterwards(
    folder: Path, how: str
) -> None:
    group, begun = GroupCommit(), time.monotonic()
    found = at_once(folder, group, append, held(folder, how))
    assert [type(one) for one in found] == [CasebookBusy] * THREADS
    assert time.monotonic() - begun < THREADS * BUSY_TIMEOUT_MS / 1000  # nobody waits for those before them
    assert kept(folder) == []
    assert sorted(map(str, at_once(folder, group, append))) == sorted(kept(folder))


def test_every_row_of_a_group_that_was_acknowledged_survives_a_kill(folder: Path) -> None:
    for _ in range(3):
        child = subprocess.Popen([sys.executable, "-c", KILLED, str(folder)], stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        told = [child.stdout.readline().strip() for _ in range(40)]
        child.kill()
        told += child.stdout.read().split("\n")[:-1]
        child.stdout.close()
        child.wait()
        assert set(told) <= set(kept(folder))
