from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from sessions.casebook.store import create
from sessions.desk.jobs import Compare
from sessions.desk.works import ENDED_FROM_OUTSIDE, Job, Work, Works
from sessions.errors import CatalogueError, ListenError, PlanError
from sessions.plans import plan_rows, resumed_comparison, two_folders
from sessions.preparation import recording_folder
from tests.command_line import earwitness
from tests.long_work import Fails, Tells, Waits


@pytest.fixture
def works(tmp_path: Path) -> Iterator[Works]:
    made = Works(tmp_path)
    yield made
    made.close()


def done(works: Works, job: Job) -> Work:
    works.start(job)
    works.wait()
    found = works.now()
    assert found is not None
    return found


def test_work_is_done_in_another_process_and_says_what_came_of_it(works: Works, tmp_path: Path) -> None:
    assert works.now() is None
    found = done(works, Tells())
    assert (found.title, found.state, found.go) == ("Telling", "done", "/desk")
    other, folder = found.lines
    assert (other == str(os.getpid()), folder) == (False, str(tmp_path))


def test_a_failure_is_one_line_also_where_the_process_dies_and_the_next_work_is_not_taken_for_it(works: Works) -> None:
    found = done(works, Fails(dies=True))
    assert (found.state, found.line) == ("failed", ENDED_FROM_OUTSIDE)
    works.start(Fails())
    while (failed := works.now()) is not None and failed.state == "runs":
        time.sleep(0.005)
    assert failed is not None
    assert (failed.state, failed.line) == ("failed", "no folder nowhere; name another")
    again = done(works, Tells())  # begun while the process before it may still be ending
    assert (again.number, again.state) == (failed.number + 1, "done")


def test_one_work_at_a_time_and_one_that_is_stopped_leaves_room_for_the_next(works: Works) -> None:
    works.start(Waits())
    while (found := works.now()) is not None and found.line != "waiting":
        time.sleep(0.005)
    with pytest.raises(ListenError, match="Waiting is being done; wait until it is over, or stop it"):
        works.start(Tells())
    works.stop()
    works.wait()
    stopped = works.now()
    assert stopped is not None
    assert stopped.state == "stopped"
    assert done(works, Tells()).state == "done"


@pytest.mark.parametrize("typed", ['"{}"', " {} ", "'{}'"])
def test_a_path_may_be_typed_as_file_browsers_copy_it(tmp_path: Path, typed: str) -> None:
    create(tmp_path / "book").close()
    named = Compare(typed.format(tmp_path / "gone"), str(tmp_path), "abx", "Ada", 16)
    with pytest.raises(CatalogueError, match=f"no folder {re.escape(str(tmp_path / 'gone'))};"):
        named.run(tmp_path / "book", lambda _: None)
    with pytest.raises(CatalogueError, match="no folder is named"):
        Compare("", "", "abx", "Ada", 16).run(tmp_path / "book", lambda _: None)


def test_names_with_a_comma_between_them_are_several_listeners(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    create(tmp_path / "book").close()
    wished = list[plan_rows.Wish]()

    def planned(casebook: object, setups: object, wish: plan_rows.Wish, tell: object) -> None:
        wished.append(wish)
        raise CatalogueError("as far as this")

    monkeypatch.setattr(recording_folder, "check_folder", lambda folder: None)
    monkeypatch.setattr(recording_folder, "unread_in", lambda folder: [])
    monkeypatch.setattr(resumed_comparison, "made_before", lambda casebook, *folders: object())
    monkeypatch.setattr(resumed_comparison, "plan", planned)
    with pytest.raises(CatalogueError, match="as far as this"):
        Compare("first", "second", "abx", "Odile, Bram ,Wenzel,", 16).run(tmp_path / "book", lambda _: None)
    assert wished[0].listeners == ("Odile", "Bram", "Wenzel")


WRONG = [
    (Compare("a", "b", "abx", "Ada", 0), "--trials 0 is out of range; give 1 to 1000"),
    (Compare("a", "b", "abx", "Ada", 10**9), "--trials 1000000000 is out of range"),
    (Compare("a", "b", "abx", "Ada,<b>Bram</b>", 16), "'<b>Bram</b>' cannot be a listener's name"),
    (Compare("a", "b", "abx", "n" * 3000, 16), "cannot be a listener's name; use 1 to 60 letters"),
    (Compare("a", "b", "abx", " , ", 16), "a plan names its listeners"),
    (Compare("a", "b", "dowsing", "Ada", 16), "there is no method 'dowsing'"),
]


@pytest.mark.parametrize(("asked", "why"), WRONG, ids=[why for _, why in WRONG])
def test_all_of_the_form_is_looked_at_before_a_recording_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: Compare, why: str
) -> None:
    def began(*_: object) -> None:
        raise AssertionError("recordings are paired")

    create(tmp_path / "book").close()
    monkeypatch.setattr(two_folders, "pair_folders", began)
    monkeypatch.setattr(recording_folder, "check_folder", lambda _: None)
    with pytest.raises((PlanError, CatalogueError), match=re.escape(why)):
        asked.run(tmp_path / "book", lambda _: None)


@pytest.mark.parametrize(
    ("option", "given", "why"),
    [
        ("--listener", "<b>Bram</b>", "'<b>Bram</b>' cannot be a listener's name"),
        ("--trials", "0", "--trials 0 is out of range"),
        ("--accept", "hum", "--accept takes KIND=WHY"),
        ("--around", "drums", "--around"),
        ("--lag", "drums", "--lag"),
    ],
)
def test_the_command_looks_at_all_its_options_before_a_recording(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, option: str, given: str, why: str
) -> None:
    def began(*_: object) -> None:
        raise AssertionError("recordings are paired")

    monkeypatch.setattr(two_folders, "pair_folders", began)
    monkeypatch.setattr(recording_folder, "check_folder", lambda _: None)
    said = earwitness(tmp_path / "book", "compare", "a", "b", "--no-listen", "--yes", option, given)
    assert said.returncode == 2
    assert why in said.stderr
    assert not (tmp_path / "book").exists()
