"""What got through once: text that a terminal obeys, numbers that nobody types, damaged tables and casebooks."""

from __future__ import annotations

import io
import os
import sqlite3
import struct
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import numpy as np
import pytest

from audio.clip import Clip
from audio.files import writing
from sessions.casebook import nearest_casebook, store
from sessions.commands import context, plain_text
from sessions.commands.main import COMMANDS, JobGroup, earwitness
from tests.sessions.commands.test_commands import Done, run

RED = "\x1b[31m"


@pytest.fixture(autouse=True)
def no_casebook_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())


@pytest.fixture
def casebook(tmp_path: Path) -> Path:
    assert run("new", tmp_path / "cb").returncode == 0
    for kind, name in (("setup", "red"), ("listener", "ann"), ("track", "song")):
        assert run("--casebook", tmp_path / "cb", kind, "add", name).returncode == 0
    return tmp_path / "cb"


def refused(done: Done) -> str:
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("earwitness: ")
    assert not plain_text.UNSEEN.search(done.stderr)
    return done.stderr


# Unicode 15, UAX #9 (marks of direction) and ISO/IEC 6429 (controls), read
@pytest.mark.parametrize(
    "letter", ["\x1b", "\x07", "\x08", "\r", "\x7f", "\x9b", "\u202e", "\u2066", "\u2028", "\udce9"]
)
def test_no_letter_that_a_terminal_obeys_is_shown_as_it_is(letter: str, capsys: pytest.CaptureFixture[str]) -> None:
    context.say(f"a{letter}b")
    context.say(context.table(["name"], [[f"c{letter}d"]]))
    context.give({f"k{letter}": f"e{letter}f"})
    out = capsys.readouterr().out
    assert letter not in out
    code = f"\\x{ord(letter):02x}" if ord(letter) < 256 else f"\\u{ord(letter):04x}"
    assert f"a{code}b" in out
    assert f"c{code}d" in out


def test_letters_of_every_language_are_shown_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    context.say("grün, 明るい, שלום, 👩🏽‍🎤, tab\there")
    assert capsys.readouterr().out == "grün, 明るい, שלום, 👩🏽‍🎤, tab\there\n"


def test_a_cell_of_a_table_stays_in_its_row() -> None:
    assert context.table(["name", "note"], [["a\nb", "c"]]).count("\n") == 1


def test_what_is_stored_with_escapes_is_shown_without(casebook: Path) -> None:
    assert run("--casebook", casebook, "edit", "setup", "red", "--note", f"{RED}loud\x1b[2J").returncode == 0
    for command in (["setup", "list"], ["setup", "show", "red"], ["setup", "show", "red", "--json"]):
        done = run("--casebook", casebook, *command)
        assert done.returncode == 0
        assert "\x1b" not in done.stdout + done.stderr
        assert "loud" in done.stdout


@pytest.mark.parametrize(
    "command",
    [
        ["setup", "add", f"{RED}horn"],
        ["setup", "add", "x", "--from", f"/no{RED}where"],
        ["setup", "show", f"{RED}horn"],
        [f"{RED}seal"],
        ["power", f"{RED}abx"],
        ["curve", "add", "red", f"{RED}.txt"],
        ["word", "log", f"{RED}harsh", "--setup", "red", "--listener", f"{RED}ann"],
    ],
)
def test_what_is_refused_is_shown_without_its_escapes(casebook: Path, command: list[str]) -> None:
    assert "\\x1b" in refused(run("--casebook", casebook, *command))


def test_an_argument_that_is_no_utf8_is_refused(casebook: Path) -> None:
    broken = os.fsdecode(b"caf\xe9")
    assert r"'caf\udce9' is no UTF-8 text" in refused(run("--casebook", casebook, "setup", "add", broken))


def parameters(command: click.Command) -> Iterator[click.Parameter]:
    yield from command.params
    if isinstance(command, click.Group):
        with click.Context(command) as inner:
            for name in command.list_commands(inner):
                own = command.get_command(inner, name)
                assert own is not None
                yield from parameters(own)


def test_every_number_of_every_command_is_read_as_people_type_it() -> None:
    with click.Context(earwitness) as outer:
        found = [
            part
            for name in COMMANDS
            if (command := JobGroup.get_command(earwitness, outer, name)) is not None
            for each in parameters(command)
            for part in (each.type.types if isinstance(each.type, click.Tuple) else [each.type])
        ]
    numbers = [each for each in found if isinstance(each, click.types.IntParamType | click.types.FloatParamType)]
    assert len(numbers) > 60
    assert {type(each).__module__ for each in numbers} == {"sessions.commands.number_types"}


@pytest.mark.parametrize("typed", ["1_6", "9" * 5000, "1e400", "nan", "inf", "٣", "0x10", ""])
def test_what_is_no_number_is_refused_in_one_line(typed: str) -> None:
    for option in ("--trials", "--power", "--alpha"):
        said = refused(run("power", "abx", f"{option}={typed}"))
        assert option in said
        assert len(said) < 200


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("ann,12,16,99\n", "line 2: more cells than the header has columns (the first is '99')"),
        ('"' + "a" * 200_000 + '",12,16\n', "line 2: no row of a table"),
        ("ann,1_2,16\n", "line 2: '1_2' under 'correct' is no whole number"),
        (f"ann,{RED}12,16\n", r"line 2: '\x1b[31m12' under 'correct'"),
    ],
)
def test_a_table_that_does_not_fit_is_refused_in_one_line(tmp_path: Path, rows: str, said: str) -> None:
    table = tmp_path / "panel.csv"
    table.write_text(f"listener,correct,trials\n{rows}")
    assert said in refused(run("tally", "abx", "--file", table))


def test_empty_cells_beyond_the_header_are_none(tmp_path: Path) -> None:
    table = tmp_path / "panel.csv"
    table.write_text("listener,correct,trials\nann,12,16,,\n")
    assert run("tally", "abx", "--file", table).returncode == 0


def test_a_curve_with_a_number_that_no_computer_holds_is_refused(casebook: Path) -> None:
    curve = casebook / "c.txt"
    curve.write_text("Hz dB\n20 1e999\n40 2\n80 3\n")
    assert "line 2" in refused(run("--casebook", casebook, "curve", "add", "red", curve))


def test_a_wave64_file_of_impossible_sizes_is_refused(tmp_path: Path) -> None:
    """Sony's Wave64: chunks are named by GUIDs, their sizes count 64 bits (from memory)."""
    riff = bytes.fromhex("726966662e91cf11a5d628db04c10000")
    wave = bytes.fromhex("77617665f3acd3118cd100c04f8edb8a")
    chunk = bytes.fromhex("666d7420f3acd3118cd100c04f8edb8a")
    path = tmp_path / "a.w64"
    path.write_bytes(riff + struct.pack("<Q", 2**64 - 1) + wave + chunk + struct.pack("<Q", 2**63 + 5) + bytes(200))
    assert str(path) in refused(run("loudness", path))


def test_a_track_that_was_lost_is_told_in_one_line(casebook: Path) -> None:
    music = casebook.parent / "blue"
    music.mkdir()
    noise = 0.1 * np.random.default_rng(1).standard_normal((96_000, 2))
    writing.write(music / "song.wav", Clip(noise, 48_000))
    assert run("--casebook", casebook, "setup", "add", "blue", "--from", music).returncode == 0
    assert run("--casebook", casebook, "passage", "add", "song", "--from", "0:00", "--to", "0:01").returncode == 0
    with sqlite3.connect(casebook / store.FILE_NAME) as damaged:
        damaged.execute("PRAGMA foreign_keys = OFF")
        for (name,) in damaged.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            damaged.execute(f"DROP TRIGGER [{name}]")
        assert damaged.execute("DELETE FROM tracks").rowcount == 1
    for command in (["status"], ["passage", "list"], ["setup", "list"]):
        assert "has lost track-" in refused(run("--casebook", casebook, *command))


def test_a_casebook_is_sought_no_farther_than_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run("new", tmp_path / "stray").returncode == 0
    home = tmp_path / "stray" / "home"
    work = home / "reviews" / "may"
    work.mkdir(parents=True)
    monkeypatch.setenv("HOME", str(home))
    with pytest.raises(store.CasebookError, match="no casebook in"):
        nearest_casebook.find(None, work)
    assert run("new", home / "reviews").returncode == 0
    assert nearest_casebook.find(None, work) == home / "reviews"


def test_the_way_up_ends_below_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Path] = []
    monkeypatch.setattr(Path, "is_file", lambda self: bool(seen.append(self)))
    with pytest.raises(store.CasebookError):
        nearest_casebook.find(None, Path("/usr/lib"))
    assert seen[0] == Path("/usr/lib") / store.FILE_NAME
    assert Path("/") / store.FILE_NAME not in seen
