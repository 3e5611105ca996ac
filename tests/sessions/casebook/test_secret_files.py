"""Plans' secrets lie in files of their own; a copy of casebook.db alone tells none, and only their owner reads them."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import click.testing
import pytest

from sessions.casebook import database, private_files, secret_files, store
from sessions.casebook.store import FILE_NAME, Casebook, create, open_casebook
from sessions.commands.context import NOT_PRIVATE, Context
from sessions.commands.main import earwitness
from sessions.errors import CasebookError, PlanError
from sessions.listening import session
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from sessions.results import verification
from tests.answered_plans import PAIR, answer_all
from tests.casebooks import held, secret_file, secret_of

OLDER = Path(__file__).parents[2] / "data" / "before-rooms" / FILE_NAME

SEAL_AND_SAY = """
import os, sys
from hashlib import sha256
from pathlib import Path
from sessions.casebook import store
from sessions.casebook.store import open_casebook
from sessions.plans import seals
casebook = open_casebook(Path(sys.argv[1]))
append = store.Casebook.append
def stopped(self, table, *given, **more):
    if table == "plans":
        os._exit(9)
    return append(self, table, *given, **more)
store.Casebook.append = stopped
seals.seal(casebook, "evening")
"""


@pytest.fixture
def any_umask() -> Iterator[None]:
    """Whoever lets everybody read and write what they make."""
    before = os.umask(0)
    yield
    os.umask(before)


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """A casebook of before there were files of secrets."""
    (tmp_path / "older").mkdir()
    shutil.copyfile(OLDER, tmp_path / "older" / FILE_NAME)
    return tmp_path / "older"


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_secret_lies_in_a_file_and_nowhere_in_the_casebook(sealed: Casebook) -> None:
    secret = secret_of(sealed)
    assert len(secret) == 32
    assert sealed.query("SELECT * FROM secrets") == []
    content = (sealed.folder / FILE_NAME).read_bytes()
    assert secret not in content
    assert secret.hex().encode() not in content
    assert os.listdir(sealed.folder / secret_files.FOLDER) == [secret_file(sealed).name]
    with sealed.snapshot() as copy:
        assert plan_rows.secret(copy, secret_file(sealed).name) == secret


@pytest.mark.usefixtures("any_umask")
def test_all_that_a_casebook_holds_is_for_its_owner_alone(tmp_path: Path, matched_folder: Path) -> None:
    with create(tmp_path / "new") as casebook:
        assert mode_of(casebook.folder) == mode_of(casebook.prepared) == 0o700
        assert mode_of(casebook.folder / FILE_NAME) == 0o600
        with casebook.writing():
            casebook.append("checks", "check", {"document": "{}"})
            journal = casebook.folder / f"{FILE_NAME}-journal"
            assert mode_of(journal) == 0o600
    shutil.copytree(matched_folder, tmp_path / "book")
    with open_casebook(tmp_path / "book") as casebook:
        drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "evening")
        seals.seal(casebook, "evening")
        with session.begin(casebook, "evening", "Ada", "none: test"):
            assert mode_of(casebook.folder / store.LOCKS) == 0o700
            assert [mode_of(lock) for lock in (casebook.folder / store.LOCKS).iterdir()] == [0o600]
        assert mode_of(secret_file(casebook)) == 0o600
        assert mode_of(secret_file(casebook).parent) == 0o700


@pytest.mark.usefixtures("any_umask")
def test_what_others_could_read_is_tightened_when_it_is_opened(older: Path, sealed: Casebook) -> None:
    (sealed.folder / FILE_NAME).chmod(0o666)
    for folder in (sealed.prepared, sealed.folder / secret_files.FOLDER):
        folder.chmod(0o777)
    secret_file(sealed).chmod(0o644)
    sealed.folder.chmod(0o755)  # may be a home or a drive: not ours to close
    open_casebook(sealed.folder).close()
    assert mode_of(sealed.folder / FILE_NAME) == mode_of(secret_file(sealed)) == 0o600
    assert mode_of(sealed.prepared) == mode_of(secret_file(sealed).parent) == 0o700
    assert mode_of(sealed.folder) == 0o755
    (older / FILE_NAME).chmod(0o644)
    open_casebook(older).close()
    (copy,) = older.glob("casebook-before-upgrade-*.db")
    assert mode_of(copy) == mode_of(older / FILE_NAME) == 0o600


def test_where_the_file_system_keeps_nothing_private_that_is_said_once(tmp_path: Path, sealed: Casebook) -> None:
    drafting.draft(sealed, Wish("abx", PAIR, listeners=("Ada",), trials=6), "again")
    asked: list[Path] = []

    def said(*arguments: str, private: bool) -> str:
        def is_private(path: Path) -> bool:
            asked.append(path)
            return private and private_files.is_private(path)

        runner = click.testing.CliRunner()
        done = runner.invoke(earwitness, list(arguments), obj=Context(is_private=is_private))
        assert done.exit_code == 0, done.output
        return str(done.output)

    assert NOT_PRIVATE not in said("new", str(tmp_path / "one"), private=True)
    assert said("new", str(tmp_path / "two"), private=False).count(NOT_PRIVATE) == 1
    book = ["--casebook", str(sealed.folder)]
    assert said(*book, "seal", "again", private=False).count(NOT_PRIVATE) == 1
    assert asked == [tmp_path / "one" / FILE_NAME, tmp_path / "two" / FILE_NAME, secret_file(sealed, "again")]
    secret_file(sealed, "again").chmod(0o644)
    assert not private_files.is_private(secret_file(sealed, "again"))


def test_a_kill_between_secret_and_plan_harms_nothing(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "evening")
    program = [sys.executable, "-c", SEAL_AND_SAY, str(casebook.folder)]
    assert subprocess.run(program, check=False).returncode == 9
    assert len(list((casebook.folder / secret_files.FOLDER).iterdir())) == 1  # and no plan has it
    assert casebook.query("SELECT * FROM plans") == []
    assert verification.verify(casebook).ok
    seals.seal(casebook, "evening")
    answer_all(casebook, 1.0)
    assert verification.verify(casebook).ok


@pytest.mark.parametrize("damage", ["gone", "damaged", "of another plan"])
def test_a_secret_that_is_missing_or_damaged_is_said_in_one_line(sealed: Casebook, damage: str) -> None:
    path = secret_file(sealed)
    if damage == "gone":
        path.rename(sealed.folder / "elsewhere")
    else:
        path.write_text("not a secret" if damage == "damaged" else "ab" * 32)
    says = "is missing: there is no" if damage == "gone" else "is damaged: "
    for attempt in (
        lambda: session.begin(sealed, "evening", "Ada", "none"),
        lambda: seals.close(sealed, "evening", "it rained"),
        lambda: seals.unlock(sealed, seals.sealed_plan(sealed, "evening")),
    ):
        with pytest.raises(PlanError, match=rf"secret of plan 'evening' {says}.*; put back the folder secrets") as told:
            attempt()
        assert str(path) in str(told.value)
        assert "\n" not in str(told.value)
    assert sealed.query("SELECT * FROM sessions") == []
    if damage == "gone":
        (sealed.folder / "elsewhere").rename(path)
        seals.close(sealed, "evening", "it rained")


def test_a_secret_lost_while_a_session_runs_is_still_told_at_its_end(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "none") as running:
        secret = secret_of(sealed)
        secret_file(sealed).unlink()
        while (offered := running.next_trial()) is not None:
            running.answer(offered, "A", 1, 10)
    assert sealed.query("SELECT secret FROM openings") == [{"secret": secret.hex()}]


def test_older_secrets_move_into_files_and_leave_nothing_behind(older: Path) -> None:
    with sqlite3.connect(older / FILE_NAME) as before:
        known = dict(before.execute("SELECT plan_id, secret FROM secrets").fetchall())
        told = {secret for (secret,) in before.execute("SELECT secret FROM openings")}
    before.close()
    untold = set(known.values()) - told
    assert len(untold) > 2
    content = (older / FILE_NAME).read_bytes()
    assert all(secret.encode() in content for secret in untold)
    with open_casebook(older) as casebook:
        assert casebook.query("SELECT * FROM secrets") == []
        for plan_id, secret in known.items():
            assert plan_rows.secret(casebook, plan_id).hex() == secret
        content = (older / FILE_NAME).read_bytes()
        assert not any(secret.encode() in content for secret in untold)
        assert verification.verify(casebook).broken == []


def test_not_even_what_sqlite_moved_about_before_is_left(older: Path) -> None:
    """So many rows that their pages were split: a deleted row may have been copied before."""
    with sqlite3.connect(older / FILE_NAME) as before:
        many = [(f"plan-{n * 79 % 401:04}", sha256(str(n).encode()).hexdigest()) for n in range(1, 401)]
        for one in many:  # whose plans were never there; nothing asks for that in this connection
            before.execute("INSERT INTO secrets VALUES (?, ?)", one)
        before.execute("DELETE FROM secrets WHERE rowid % 3 = 0")
    before.close()
    open_casebook(older).close()
    content = (older / FILE_NAME).read_bytes()
    assert not [secret for _, secret in many if secret.encode() in content]


def test_a_move_that_was_stopped_half_way_is_done_again(older: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise CasebookError("stopped")

    with monkeypatch.context() as killed:
        killed.setattr(Casebook, "clear_secrets", stopped)
        with open_casebook(older) as casebook:
            assert casebook.query("SELECT count(*) AS n FROM secrets") != [{"n": 0}]
            assert verification.verify(casebook).broken == []
    with open_casebook(older) as casebook:
        assert casebook.query("SELECT * FROM secrets") == []
        assert verification.verify(casebook).broken == []


def test_a_casebook_that_cannot_be_written_is_read_with_its_secrets_where_they_are(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (older / FILE_NAME).read_bytes()
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK and access(path, mode))  # root may write all
    with open_casebook(older) as casebook:
        plans = plan_rows.every_sealed(casebook)
        assert all(len(plan_rows.secret(casebook, one.plan.id)) == 32 for one in plans)
        assert verification.verify(casebook).broken == []
        with pytest.raises(CasebookError, match="read-only; nothing was written"):
            casebook.append("checks", "check", {"document": "{}"})
    assert os.listdir(older) == [FILE_NAME]
    assert (older / FILE_NAME).read_bytes() == before


def test_where_secrets_cannot_be_moved_now_they_are_found_in_their_table(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (older / secret_files.FOLDER).write_text("a file in its place")
    with open_casebook(older) as casebook:
        assert all(len(plan_rows.secret(casebook, one.plan.id)) == 32 for one in plan_rows.every_sealed(casebook))
        assert verification.verify(casebook).broken == []
    (older / secret_files.FOLDER).unlink()
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    with held(older), open_casebook(older) as casebook:
        assert casebook.query("SELECT count(*) AS n FROM secrets") != [{"n": 0}]
    with open_casebook(older) as casebook:
        assert casebook.query("SELECT count(*) AS n FROM secrets") == [{"n": 0}]


def test_an_identifier_leads_out_of_the_folder_of_secrets_by_no_means(tmp_path: Path) -> None:
    assert secret_files.path_of(tmp_path, "../../etc/passwd") == tmp_path / "secrets" / "passwd"
