"""The grades of one trial while they are being given."""

from __future__ import annotations

from sessions.commands import keyboard
from sessions.commands.grade_sheet import Sheet
from sessions.plans.methods.hidden_reference import HIDDEN_REFERENCE


def test_grades_keep_to_their_scale_and_must_be_whole() -> None:
    sheet = Sheet(HIDDEN_REFERENCE)
    assert sheet.turn(keyboard.UP, "R") == ""  # the open reference gets no grade
    assert sheet.turn(keyboard.UP, None) == ""  # nor does silence
    assert sheet.given == {}
    for _ in range(40):
        sheet.turn(keyboard.UP, "1")
    assert str(sheet.given["1"]) == "5.0"
    assert "grade 2 as well" in sheet.lacking()
    for _ in range(3):
        sheet.turn(keyboard.PAGE_DOWN, "2")
    assert str(sheet.given["2"]) == "1.0"
    assert sheet.lacking() == ""
    sheet.turn(keyboard.DOWN, "1")
    assert "give it 5.0" in sheet.lacking()
    assert sheet.turn("x", "1") is None
