"""`backup`: the copy is whole, private, checked, and of one moment while somebody else writes."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from sessions.casebook import backup_copy, database, nearest_casebook
from sessions.casebook.store import FILE_NAME, Casebook, create, open_casebook
from sessions.commands import context
from sessions.results import verification
from tests.answered_plans import answer_all
from tests.casebooks import judged
from tests.command_line import earwitness

WRITER = """
import sys
import time
from pathlib import Path
from sessions.casebook.store import new_row, open_casebook
casebook = open_casebook(Path(sys.argv[1]))
for number in range(100_000):
    rows = [new_row("checks", "check", {"document": f'"{number} {part}"'}) for part in range(3)]
    print(casebook.append_many(rows)[-1]["seq"], flush=True)
    time.sleep(0.01)
"""


def test_a_copy_goes_on_where_the_casebook_was(sealed: Casebook, tmp_path: Path) -> None:
    answer_all(sealed, 1.0)
    book, out = sealed.folder, tmp_path / "disk" / "copy"
    done = earwitness(book, "backup", str(out), "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert (told["ok"], told["secrets"], told["audio_files"]) == (True, 1, 0)
    assert done.stderr.count("\n") == 1
    with open_casebook(out) as copy:
        assert verification.verify(copy) == verification.verify(sealed)
        assert judged(copy, "evening").p_value == judged(sealed, "evening").p_value == pytest.approx(2**-8)
    assert [path.name for path in out.parent.iterdir()] == ["copy"]


def test_a_plan_under_way_can_be_listened_to_in_the_copy_with_its_audio(sealed: Casebook, tmp_path: Path) -> None:
    done = earwitness(sealed.folder, "backup", str(tmp_path / "copy"), "--with-audio", "--json")
    assert json.loads(done.stdout)["audio_files"] == len(list(sealed.prepared.iterdir())) > 0
    with open_casebook(tmp_path / "copy") as copy:
        assert verification.verify(copy, audio=True).without_audio == ()
        answer_all(copy, 1.0)
        assert judged(copy, "evening").verdict == "heard"
    if os.name == "posix":
        for path in (tmp_path / "copy").rglob("*"):
            assert not stat.S_IMODE(path.stat().st_mode) & 0o077, path


def test_it_is_of_one_moment_while_another_program_writes(tmp_path: Path) -> None:
    create(tmp_path / "book").close()
    command = [sys.executable, "-c", WRITER, str(tmp_path / "book")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        try:
            for number in range(5):
                acknowledged = int(writer.stdout.readline())
                done = earwitness(tmp_path / "book", "backup", str(tmp_path / f"copy-{number}"), "--json")
                told = json.loads(done.stdout or done.stderr)
                assert told["ok"], done.stderr
                assert told["rows"] >= acknowledged
                assert told["rows"] % 3 == 1  # the casebook's own row, and threes that are written together
            assert writer.poll() is None
        finally:
            writer.kill()


@pytest.mark.parametrize("let_go", [True, False])
def test_it_waits_longer_than_others_for_a_writer_that_never_pauses_and_asks_nobody_to_close_a_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, let_go: bool
) -> None:
    """For a writer stands a lock, held longer than any command waits: let go at the fourth try, or never."""
    create(tmp_path / "book").close()
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    other = sqlite3.connect(tmp_path / "book" / FILE_NAME, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    tries = list[int]()

    def tried(given: Any, start: Path) -> Path:
        tries.append(1)
        if let_go and len(tries) == 4:
            other.execute("ROLLBACK")
        return find(given, start)

    find = nearest_casebook.find
    monkeypatch.setattr(context, "find", tried)
    monkeypatch.setattr(backup_copy, "LONGEST_WAIT_S", 30.0 if let_go else 0.1, raising=False)
    done = earwitness(tmp_path / "book", "backup", str(tmp_path / "copy"))
    other.close()
    assert (done.returncode, (tmp_path / "copy").exists()) == ((0, True) if let_go else (2, False)), done.stderr
    assert let_go or "try again, a session may go on meanwhile" in done.stderr
    assert "close it" not in done.stderr


@pytest.mark.parametrize(
    ("out", "says"),
    [("there", "is there already"), ("book/copy", "lies in the casebook itself"), ("book", "is there already")],
)
def test_it_writes_over_nothing(sealed: Casebook, tmp_path: Path, out: str, says: str) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "mine.txt").write_text("kept")
    done = earwitness(sealed.folder, "backup", str(tmp_path / out))
    assert done.returncode == 2
    assert says in done.stderr
    assert (tmp_path / "there" / "mine.txt").read_text() == "kept"


def test_a_copy_that_fails_leaves_nothing(sealed: Casebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    (tmp_path / "disk").mkdir()
    monkeypatch.setattr("shutil.copyfile", full)
    done = earwitness(sealed.folder, "backup", str(tmp_path / "disk" / "copy"))
    assert done.returncode == 2
    assert "No space left on device" in done.stderr
    assert list((tmp_path / "disk").iterdir()) == []


def test_a_record_that_does_not_hold_is_copied_and_said(sealed: Casebook, tmp_path: Path) -> None:
    sealed.db.conn.execute("DROP TRIGGER answers_keep_content")
    sealed.db.conn.commit()
    done = earwitness(sealed.folder, "backup", str(tmp_path / "copy"))
    assert done.returncode == 1
    assert "ITS RECORD DOES NOT HOLD" in done.stdout
    assert (tmp_path / "copy" / FILE_NAME).is_file()
