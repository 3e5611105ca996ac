"""Keys from bytes, as a terminal sends them: `Typed` gives them at moments of a clock that only it moves."""

from __future__ import annotations

import curses

import pytest

from sessions.commands import keyboard
from sessions.commands.keyboard import Keyboard
from sessions.commands.line_editor import LineEditor


class Typed:
    """A window whose bytes come at their moments, in seconds."""

    def __init__(self, *events: tuple[float, bytes | int]) -> None:
        self.left = [(at, code) for at, what in events for code in (what if isinstance(what, bytes) else [what])]
        self.now, self.wait_s = 0.0, 0.0

    def timeout(self, delay: int, /) -> None:
        self.wait_s = delay / 1000

    def getch(self) -> int:
        if self.left and self.left[0][0] <= self.now + self.wait_s:
            at, code = self.left.pop(0)
            self.now = max(self.now, at)
            return code
        self.now += self.wait_s
        return -1


def reads(typed: Typed, encoding: str = "utf-8") -> Keyboard:
    return Keyboard(typed, 50, encoding, lambda: typed.now)


def all_keys(typed: Typed, encoding: str = "utf-8") -> list[str]:
    keys, board = [], reads(typed, encoding)
    while typed.left:
        key = board.read()
        if key is not None:
            keys.append(key)
    return keys


@pytest.mark.parametrize("text", ["ä", "straße", "græn", "žluté", "жёсткий", "明るい", "🎻", "naïve — “ça”"])
@pytest.mark.parametrize("encoding", ["utf-8", "UTF-8", "ANSI_X3.4-1968", "no such thing"])
def test_what_is_typed_in_utf_8_is_read_as_it_was_typed(text: str, encoding: str) -> None:
    assert "".join(all_keys(Typed((0.0, text.encode())), encoding)) == text


def test_a_terminal_of_another_encoding_is_read_in_it() -> None:
    assert all_keys(Typed((0.0, "hörbar".encode("latin-1"))), "ISO-8859-1") == list("hörbar")


def test_the_bytes_of_one_character_may_come_apart() -> None:
    first, second = "ä".encode()
    assert all_keys(Typed((0.0, first), (0.2, second), (0.3, b"b"))) == ["ä", "b"]


def test_bytes_that_are_no_utf_8_are_left_out_and_spoil_nothing_after_them() -> None:
    assert all_keys(Typed((0.0, b"\xff\xc3a\xe2\x82b\xc3\xa4"))) == ["a", "b", "ä"]
    assert all_keys(Typed((0.0, 0xC3), (0.0, curses.KEY_UP), (0.0, 0xA4), (0.0, b"x"))) == [keyboard.UP, "x"]


def test_other_keys_have_names() -> None:
    codes = [10, 13, 27, 127, 8, 21, curses.KEY_HOME, curses.KEY_END, curses.KEY_PPAGE, curses.KEY_F1, 1]
    assert all_keys(Typed(*((0.0, code) for code in codes))) == [
        *("enter", "enter", "escape", "backspace", "backspace", "clear", "home", "end", "page up", "other", "other")
    ]


def test_nothing_typed_is_none_after_a_tick() -> None:
    typed = Typed()
    assert reads(typed).read() is None
    assert typed.now == pytest.approx(0.05)


def test_keys_typed_ahead_are_dropped_until_the_typing_ends() -> None:
    """Three before it is looked, and a held one that repeats every 0.1 s for a second after that."""
    held = [(0.5 + 0.1 * number, b"a") for number in range(11)]
    typed = Typed((0.0, b"x\na"), *[(at - 0.4, code) for at, code in held], (1.5 + keyboard.QUIET_S, b"q"))
    board = reads(typed)
    assert board.forget() == ["x", "enter", "a", *["a"] * 11]
    assert typed.now == pytest.approx(1.1 + keyboard.QUIET_S, abs=0.051)
    typed.now = 1.8
    assert board.read() == "q"


def test_who_typed_nothing_ahead_waits_for_nothing_and_loses_nothing() -> None:
    typed = Typed((0.01, b"x"))
    board = reads(typed)
    assert board.forget() == []
    assert typed.now == 0
    assert board.read() == "x"


def test_a_key_that_is_held_does_not_answer_what_it_brought() -> None:
    """It repeats 0.66 s after it was pressed, then every 0.03 s; pressed anew later, it counts."""
    repeats = [(0.66 + 0.03 * number, b"2") for number in range(30)]
    typed = Typed((0.0, b"2"), *repeats, (1.6, b"3"), (3.0, b"2"))
    board = reads(typed)
    assert board.read() == "2"
    board.ignore_held("2")
    keys = []
    while typed.left:
        keys.append(board.read())
    assert [key for key in keys if key is not None] == ["3", "2"]


def test_a_key_that_was_let_go_for_another_counts_however_soon_it_comes_again() -> None:
    """An answer, its sureness, and in the next trial the same letter twice, to hear and to answer."""
    typed = Typed((0.0, b"a"), (0.2, b"3"), (2.0, b"a"), (2.1, b"x"), (2.2, b"a"), (2.3, b"a"))
    board = reads(typed)
    assert board.read() == "a"
    board.ignore_held("a")
    keys = []
    while typed.left:
        keys.append(board.read())
    assert [key for key in keys if key is not None] == ["3", "a", "x", "a", "a"]


def test_a_line_keeps_what_is_typed_and_takes_back_whole_characters() -> None:
    line = LineEditor(longest=8)
    for key in ["h", "ä", "backspace", "ä", "r", "t", "é", "enter", "up"]:
        taken = line.turn(key)
        assert taken == (key not in ("enter", "up"))
    assert line.text == "härté"
    for key in " e\u0301 und mehr":
        line.turn(key)
    assert line.text == "härté é "
    assert line.full
    assert line.words == "härté é"
    line.turn("clear")
    assert line.text == ""
