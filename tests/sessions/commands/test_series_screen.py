"""The guided series: deliberate keys, typed-ahead ones emptied, redo, skip, back, stop, notes."""

from __future__ import annotations

import io
import os
import pty
import re
import sys
import termios
import threading
import tty
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create
from sessions.commands import series_screen
from sessions.commands.main import main
from sessions.measured import sweep_series
from sessions.measured.sweep_series import Step
from tests.sessions.measured.test_swept_curves import Room

STEPS = sweep_series.by_angles("0:30:10", "horizontal")


def gone_through(
    monkeypatch: pytest.MonkeyPatch, keys: str, failing: int | None = None
) -> tuple[list[tuple[int, str]], series_screen.Progress]:
    """What was taken (angle and note), by keys a line each."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(keys.split(",")) + "\n"))
    taken: list[tuple[int, str]] = []

    def take(step: Step, note: str) -> bool:
        taken.append((int(step.direction.angle), note))
        return len(taken) - 1 != failing

    return taken, series_screen.run(STEPS, take)


def test_each_step_says_where_it_stands_and_waits_for_its_key(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    taken, ended = gone_through(monkeypatch, "x,,g,g,g,g")
    assert taken == [(0, ""), (10, ""), (20, ""), (30, "")]
    assert (ended.taken, ended.stopped, ended.left) == (4, False, ())
    said = capsys.readouterr().err
    assert "3 of 4: Turn the loudspeaker to 20°." in said
    assert "g sweeps, k skips, b goes back, r redoes the last one, n keeps a note, q stops" in said


@pytest.mark.parametrize(
    ("keys", "angles", "left"),
    [
        ("g,k,g,q", [0, 20], ("horizontal 10°", "horizontal 30°")),
        ("g,r,g,g,q", [0, 0, 10], ("horizontal 20°", "horizontal 30°")),
        ("k,k,b,g,q", [10], ("horizontal 0°", "horizontal 20°", "horizontal 30°")),
        ("g,k,g,r,g,g", [0, 20, 20, 30], ("horizontal 10°",)),
        ("g,g,b,b,g,r,g,k,g,g", [0, 10, 0, 0, 20, 30], ()),
        ("g,r,q,g", [0], ("horizontal 10°", "horizontal 20°", "horizontal 30°")),
        ("g,r,k,g,q", [0, 10], ("horizontal 20°", "horizontal 30°")),
        ("r,g,q", [0], ("horizontal 10°", "horizontal 20°", "horizontal 30°")),
        ("g", [0], ("horizontal 10°", "horizontal 20°", "horizontal 30°")),
    ],
)
def test_redo_skip_back_and_stop(
    monkeypatch: pytest.MonkeyPatch, keys: str, angles: list[int], left: tuple[str, ...]
) -> None:
    taken, ended = gone_through(monkeypatch, keys)
    assert [angle for angle, _ in taken] == angles
    assert ended.left == left


def test_a_take_that_failed_is_offered_again(monkeypatch: pytest.MonkeyPatch) -> None:
    taken, ended = gone_through(monkeypatch, "g,g,q", failing=0)
    assert [angle for angle, _ in taken] == [0, 0]
    assert ended.taken == 1


def test_notes_belong_to_the_step_on_offer(monkeypatch: pytest.MonkeyPatch) -> None:
    taken, _ = gone_through(monkeypatch, "n,a lorry outside,n,door shut,g,g,q")
    assert taken == [(0, "a lorry outside; door shut"), (10, "")]


def test_keys_typed_ahead_do_not_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a real terminal pair: keys struck while a sweep plays are emptied before the next question."""
    near, far = pty.openpty()
    tty.setcbreak(far)
    done = threading.Event()

    def press() -> None:
        """A key that is none, then skip, again and again until it was read."""
        for key in b"x" + 50 * b"k":
            if done.wait(0.2):
                return
            os.write(near, bytes([key]))

    with os.fdopen(far, "r") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        os.write(near, b"gggg")
        pressing = threading.Thread(target=press, daemon=True)
        pressing.start()
        assert series_screen.asked() == "skip"
        done.set()
        pressing.join()
    os.close(near)


def test_redo_says_which_step_is_taken_once_more(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    gone_through(monkeypatch, "g,g,r,g,q")
    said = capsys.readouterr().err
    assert "2 of 4 once more: Turn the loudspeaker to 10°.\n  g sweeps it, k leaves it as it is, q stops" in said
    assert "2 of 4: Turn the loudspeaker to 10° (taken already)" not in said


def test_keys_struck_during_a_series_do_not_appear(monkeypatch: pytest.MonkeyPatch) -> None:
    near, far = pty.openpty()
    with os.fdopen(far, "r") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        shown = termios.ECHO & termios.tcgetattr(far)[3]
        with series_screen.unseen_keys():
            assert not termios.ECHO & termios.tcgetattr(far)[3]
            with series_screen.unseen_keys(seen=True):
                assert termios.ECHO & termios.tcgetattr(far)[3]
        assert termios.ECHO & termios.tcgetattr(far)[3] == shown
    os.close(near)


def test_lines_break_between_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "40")
    broken = series_screen.in_lines("2 of 4: x.\n  " + series_screen.OFFER)
    assert max(map(len, broken.split("\n"))) < 40
    assert " ".join(broken.split()) == f"2 of 4: x. {series_screen.OFFER}"


class Terminal(io.StringIO):
    """A terminal that keeps what is written."""

    def isatty(self) -> bool:
        """Always."""
        return True


@pytest.mark.parametrize(("wide", "most"), [("80", 80), ("200", 100)])
def test_no_line_of_a_series_is_wider_than_can_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wide: str, most: int
) -> None:
    """A whole series, in which one step cannot be taken; and noise below a peak is so many dB below it, not less."""
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("room:1"))
    out, err = Terminal(), Terminal()
    monkeypatch.setenv("COLUMNS", wide)
    monkeypatch.setattr(sys, "stdin", io.StringIO("g\nk\ng\nq\n"))
    series = ("--angles", "0:30:10", "--seconds", "1.5", "--averages", "1", "--distance", "1", "--height", "1")
    words = ["--casebook", str(tmp_path / "book"), "curve", "sweep", "sallow", "--mic", "room:1", *series]
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit, match="0"):
        main(words, Room())
    said = [line for line in (out.getvalue() + err.getvalue()).split("\n") if "earwitness" not in line]
    assert len(said) > 8
    assert max(map(len, said)) <= most
    assert re.search(r"noise \d+ dB below the peak", " ".join(out.getvalue().split()))
