"""What is typed: times, names, slips of the keyboard, commands that are proposed, completion, help that is whole."""

from __future__ import annotations

import io
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.track_time import seconds
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Passage, Setup
from sessions.casebook.store import Casebook
from sessions.commands.times import clock
from tests.command_line import earwitness

PROGRAM = (sys.executable, "-c", "from sessions.commands.main import main; main()")


@pytest.fixture(autouse=True)
def nobody_at_the_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("0:30", 30),
        ("1:02.5", 62.5),
        ("62.5", 62.5),
        ("90", 90),
        ("1:00:00", 3600),
        ("0:00.001", 0.001),
        ("-1.5", -1.5),
    ],
)
def test_a_time_is_minutes_and_seconds_or_seconds(typed: str, meant: float) -> None:
    assert seconds(typed) == pytest.approx(meant, abs=1e-12)


@pytest.mark.parametrize(
    "typed", ["", ":", "1:75", "1:", ":30", "1_6", "1e3", "-1e400", "nan", "inf", "٣", "1:2:3:4", "1:75:00", "9" * 400]
)
def test_whatever_else_is_typed_is_no_time(typed: str) -> None:
    assert seconds(typed) is None


@given(st.integers(min_value=0, max_value=100_000_000))
def test_a_time_that_is_shown_can_be_typed_again(milliseconds: int) -> None:
    assert seconds(clock(milliseconds / 1000)) == pytest.approx(milliseconds / 1000, abs=1e-9)


def test_times_are_typed_everywhere_in_the_music(casebook: Casebook) -> None:
    done = earwitness(casebook.folder, "passage", "add", "strings", "--from", "0:00.5", "--to", "0:02.5", "--name", "a")
    assert done.stdout.startswith("Passage 'a': 0:00.500 to 0:02.500\n")
    added = catalogue.find(casebook, Passage, "a")
    assert (added.start_frame, added.frames) == (24_000, 96_000)
    catalogue.add_listener(casebook, "Ada")
    earwitness(casebook.folder, "word", "log", "bright", "--listener", "Ada", "--track", "strings", "--at", "0:02.5")
    assert casebook.query("SELECT track_ms FROM words") == [{"track_ms": 2_500}]
    for typed in ("1_6", "-1e400", "soon"):
        done = earwitness(casebook.folder, "passage", "add", "strings", f"--from={typed}", "--to", "20")
        assert done.returncode == 2
        assert "0:30 or 1:02.5" in done.stderr


@pytest.mark.parametrize("name", ["Sallow & Co", "2/3 + room (far)", "bass, dry", "R&B (1/2), +3"])
def test_names_hold_what_people_put_into_them(casebook: Casebook, name: str) -> None:
    assert earwitness(casebook.folder, "rename", "setup", "sallow", name).returncode == 0
    done = earwitness(casebook.folder, "plan", "abx", "--setup", name, "--setup", "bracken", "--listener", name)
    assert done.returncode == 0, done.stderr
    for words in (("status",), ("setup", "show", name), ("match", "files", "--setup", name, "--setup", "bracken")):
        assert earwitness(casebook.folder, *words).returncode == 0
    assert earwitness(casebook.folder, "seal", "abx-1", "--anyway").returncode == 0
    done = earwitness(casebook.folder, "report")
    assert done.returncode == 0, done.stderr
    assert name.replace("&", "&amp;") in (casebook.folder / "report.html").read_text(encoding="utf-8")
    assert catalogue.find(casebook, Setup, name)


@pytest.mark.parametrize("name", ["", " a", "a ", "a\nb", "\x1b[31m", "-a", "/etc", "a" * 61, "a;b", "$(b)", "a=b"])
def test_what_is_no_name_is_refused(casebook: Casebook, name: str) -> None:
    done = earwitness(casebook.folder, "rename", "setup", "--", "sallow", name)
    assert done.returncode == 2
    assert "cannot be a setup's name" in done.stderr


def test_proposed_commands_go_through_a_shell_as_they_are(casebook: Casebook, tmp_path: Path) -> None:
    book = tmp_path / "the & book (2)"
    shutil.copytree(casebook.folder, book)
    done = earwitness(book, "plan", "abx", "--name", "bow & (near)", "--listener", "Ada L")
    words = shlex.split(done.stdout.rpartition("Seal it: ")[2])
    assert words == ["earwitness", "--casebook", str(book), "seal", "bow & (near)"]
    done = earwitness(book, *words[3:])
    for said, rest in (
        ("Note where it stands: ", ["witness", "bow & (near)"]),
        ("Listen: ", ["listen", "bow & (near)"]),
    ):
        line = next(line for line in done.stdout.splitlines() if line.startswith(said))
        assert shlex.split(line.removeprefix(said))[3:5] == rest


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (("statsu",), "status"),
        (("lisen", "evening"), "listen"),
        (("setup", "lst"), "list"),
        (("plan", "show", "evning"), "evening"),
        (("plan", "close", "Evening", "--why", "x", "--yes"), "evening"),
        (("setup", "show", "sallwo"), "sallow"),
        (("passage", "show", "string 1"), "strings 1"),
        (("verdict", "evenin"), "evening"),
    ],
)
def test_a_slip_of_the_keyboard_gets_a_proposal(sealed: Casebook, words: tuple[str, ...], near: str) -> None:
    done = earwitness(sealed.folder, *words)
    assert done.returncode == 2
    assert f"did you mean '{near}'?" in done.stderr
    assert done.stderr.count("\n") == 1


def test_what_is_like_nothing_gets_no_proposal(sealed: Casebook) -> None:
    assert "did you mean" not in earwitness(sealed.folder, "conjure").stderr
    assert "did you mean" not in earwitness(sealed.folder, "setup", "show", "willow").stderr


@pytest.mark.parametrize("group", ["setup", "plan", "passage", "curve", "edit", "remove", "rename", "match", "word"])
def test_nothing_is_cut_in_the_help_of_a_group(casebook: Casebook, group: str) -> None:
    said = earwitness(casebook.folder, group, "--help").stdout
    assert "..." not in said.partition("Commands:")[2]
    assert max(map(len, said.splitlines())) <= 80


def test_lines_of_help_stay_lines(casebook: Casebook) -> None:
    said = earwitness(casebook.folder, "--help").stdout
    assert "what they show.\n\n  Without a command: " in said


@pytest.mark.parametrize(
    ("shell", "words", "offered"),
    [("bash", "stat", "plain,status"), ("zsh", "stat", "status"), ("fish", "stat", "plain,status")],
)
def test_shells_complete_commands(shell: str, words: str, offered: str) -> None:
    environment = os.environ | {
        "_EARWITNESS_COMPLETE": f"{shell}_complete",
        "COMP_WORDS": f"earwitness {words}" if shell != "fish" else "earwitness",
        "COMP_CWORD": words if shell == "fish" else "1",
    }
    done = subprocess.run(PROGRAM, capture_output=True, text=True, env=environment)
    assert offered in done.stdout.splitlines() or done.stdout.startswith(offered), (done.stdout, done.stderr)
    source = subprocess.run(
        PROGRAM, capture_output=True, text=True, env=os.environ | {"_EARWITNESS_COMPLETE": f"{shell}_source"}
    )
    assert "_EARWITNESS_COMPLETE" in source.stdout
