"""The grades of one trial while they are being given."""

from __future__ import annotations

import curses

from sessions.commands.grade_sheet import Sheet
from sessions.plans.methods.hidden_reference import HIDDEN_REFERENCE


def test_grades_keep_to_their_scale_and_must_be_whole() -> None:
    sheet = Sheet(HIDDEN_REFERENCE)
    assert sheet.turn(curses.KEY_UP, "R")  # the open reference gets no grade
    assert sheet.turn(curses.KEY_UP, None)  # nor does silence
    assert sheet.given == {}
    for _ in range(40):
        sheet.turn(curses.KEY_UP, "1")
    assert str(sheet.given["1"]) == "5.0"
    assert "grade 2 as well" in sheet.lacking()
    for _ in range(3):
        sheet.turn(curses.KEY_NPAGE, "2")
    assert str(sheet.given["2"]) == "1.0"
    assert sheet.lacking() == ""
    sheet.turn(curses.KEY_DOWN, "1")
    assert "give it 5.0" in sheet.lacking()
    assert not sheet.turn(ord("x"), "1")
