"""The listening screen's rows, worked out without a terminal: every page of every method in 80 columns and 24 lines."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from sessions.commands import chair_screen
from sessions.commands.chair_page import Page, sheet_of
from sessions.commands.chair_rows import Shown, blocks
from sessions.commands.grade_sheet import Sheet
from sessions.commands.line_editor import LineEditor
from sessions.commands.window_text import MARGIN, Row, columns, lines_needed, room, sentences, stacked
from sessions.errors import CasebookBusy, CasebookFull
from sessions.listening.disturbances import sentence
from sessions.listening.now import Now
from sessions.plans.methods import table
from sessions.plans.methods.graded import GradedMethod
from sessions.plans.methods.method import Method

ASKED = ("hear", "answer", "sureness", "word", "strength", "grade", "leave", "next", "device", "busy", "disturbed")
LONG = (
    "the playback device 'USB audio interface of the living room, analogue outputs 1 and 2' does not take 96000 Hz; "
    "plug it in again, or take another one with --device"
)
PASSAGE = "the second chorus, with both choirs and the organ"


def methods() -> list[Method]:
    """Every method with the fewest and with the most labels it can have."""
    most = tuple(f"{'m' * 18} {n}"[-20:] for n in range(16))
    asked = [*table.METHODS.values(), table.METHODS["words"].asked(rated=True)]
    found = [one.with_words(words) for one in asked for words in (most[:2], most)]
    return [one.with_labels(number, ties=ties) for one in found for number in one.setups for ties in (False, True)]


def page_of(method: Method, asking: str, message: str = "") -> Page:
    sheet = sheet_of(method)
    if isinstance(method, GradedMethod):
        assert isinstance(sheet, Sheet)
        sheet.given = dict.fromkeys(method.graded, method.scale.high - 1)
    answer = next(iter(method.answers), "")
    line = LineEditor("hard, but only where the cymbals and the voices are together")
    return Page(message, asking, answer, line, method.stimuli[-1], 0, sheet)  # type: ignore[arg-type]


def shown(method: Method, asking: str, **other: object) -> Shown:
    heard = frozenset(method.stimuli[:-1])
    now = Now(28, 128, method.stimuli[-1], PASSAGE, 61.2345, 90.0, (1.0, 75.001), False, heard, False)
    page = page_of(method, asking, LONG if asking == "device" else "kept the word: hard")
    whole = Shown(f"{method.name} autumn-evening (REHEARSAL)", method.default_question, method, now, page)
    return replace(whole, **{"disturbed": sentence({"underruns": 12, "stalls": 1}, 4), **other})  # type: ignore[arg-type]


def text(rows: list[Row]) -> list[str]:
    """The rows as a terminal shows them."""
    lines = []
    for row in rows:
        line = ""
        for span in row:
            at = MARGIN + span.column
            assert columns(line) <= at, f"{span.text!r} covers what stands before it: {line!r}"
            line += " " * (at - columns(line)) + span.text
        lines.append(line)
    return lines


@pytest.mark.parametrize("asking", ASKED)
@pytest.mark.parametrize("size", [(80, 24), (120, 40), (66, 30)])
def test_every_page_of_every_method_is_whole_with_its_words_unbroken(asking: str, size: tuple[int, int]) -> None:
    width, height = size
    for method in methods():
        if asking == "answer" and not method.answers:
            continue
        page = blocks(shown(method, asking), room(width))
        assert lines_needed(page) <= height, f"{method.name}, {len(method.stimuli)} labels"
        lines = text(stacked(page, height))
        assert len(lines) <= height
        assert max(map(columns, lines)) < width, f"{method.name}: something stands in the last column"
        words = " ".join(lines).split()
        for said in (method.default_question, f"Passage {PASSAGE}: 1:01.2 of 1:30.0", "Loop: 0:01.000 to 1:15.001,"):
            assert said in " ".join(words)
        if asking in ("hear", "next", "disturbed"):
            assert set(sentence({"underruns": 12, "stalls": 1}, 4).split()) <= set(words)
        if asking == "device":
            assert " ".join(LONG.split()) in " ".join(words)
        if asking == "answer":
            assert all(what in " ".join(words) for what in method.answers.values())


def test_a_question_of_ones_own_and_wide_characters_are_whole_too() -> None:
    question = "Klingt das Cello in der zweiten Strophe näher? 明るい音ですか " * 3
    method = table.METHODS["abx"]
    page = blocks(shown(method, "hear", question=question), room(80))
    lines = text(stacked(page, 24))
    assert max(map(columns, lines)) < 80
    assert question.strip() in " ".join(" ".join(lines).split())


def test_what_is_not_needed_is_left_out() -> None:
    """No loop is spoken of, nor how to end it, where there is none; a silent trial says how long the passage is."""
    one = shown(table.METHODS["abx"], "hear", disturbed="")
    silent = replace(one, now=replace(one.now, playing=None, position_s=0.0, loop_s=None))
    said = " ".join(text(stacked(blocks(silent, room(100)), 24)))
    assert f"Passage {PASSAGE}: silent; it lasts 1:30.0" in said
    assert "i: loop from here    o: loop to here" in said
    assert "Loop:" not in said
    assert "no loop" not in said


def test_the_place_is_shown_while_an_outside_switch_works() -> None:
    one = shown(table.METHODS["abx"], "hear")
    held = replace(one, now=replace(one.now, playing=None))
    assert f"Passage {PASSAGE}: silent at 1:01.2 of 1:30.0" in text(stacked(blocks(held, room(120)), 40))[5]


def test_a_rehearsal_does_not_promise_to_go_on() -> None:
    one = shown(table.METHODS["abx"], "leave")
    assert "can be taken up again" in " ".join(text(stacked(blocks(one, room(80)), 24)))
    anew = text(stacked(blocks(replace(one, begins_anew=True), room(80)), 24))
    assert "Stop here? This rehearsal would begin anew." in " ".join(anew)
    assert "taken up again" not in " ".join(anew)


@pytest.mark.parametrize("wide", [8, 20, 75])
def test_sentences_lose_no_character_and_break_only_words_that_have_no_room(wide: int) -> None:
    said = "näher, und heller: 明るい音 -- https://example.org/a-word-that-is-longer-than-most"
    rows = [row[0].text for row in sentences(said, wide)]
    assert max(map(columns, rows)) <= wide
    assert "".join(rows).replace(" ", "") == said.replace(" ", "")
    for word in said.split():
        if columns(word) <= wide:
            assert any(word in row.split() for row in rows)


def test_a_grade_is_typed_with_a_point_or_a_comma_and_only_on_the_scale() -> None:
    method = next(one for one in methods() if one.name == "hidden-reference")
    assert isinstance(method, GradedMethod)
    sheet = Sheet(method)
    assert sheet.typed("1", "3,5") == sheet.typed("2", " 5 ") == ""
    assert {label: str(grade) for label, grade in sheet.given.items()} == {"1": "3.5", "2": "5.0"}
    for wrong in ("5.1", "0.9", "3.55", "", ".", "nan", "1e400", "-1"):
        assert sheet.typed("1", wrong).endswith("type 1.0 to 5.0, in steps of 0.1")
    assert sheet.given["1"] == Decimal("3.5")


def test_home_is_the_best_grade_and_end_the_worst() -> None:
    method = next(one for one in methods() if one.name == "multi-stimulus")
    assert isinstance(method, GradedMethod)
    sheet = Sheet(method)
    for key, grade in (("home", 100), ("up", 100), ("page down", 90), ("end", 0), ("down", 0), ("up", 1)):
        assert sheet.turn(key, "2") == ""
        assert sheet.given == {"2": grade}
    assert sheet.turn("home", None) == ""
    assert sheet.turn("home", "R") == ""
    assert sheet.given == {"2": 1}


@pytest.mark.parametrize("refused", [CasebookBusy("in use"), CasebookFull("no space")])
def test_what_the_next_trial_waits_for_is_said_and_what_was_said_waits_with_it(refused: CasebookBusy) -> None:
    class Refusing:
        def offer(self) -> None:
            raise refused

    page = chair_screen._next(Refusing(), "kept")  # type: ignore[arg-type]
    assert (page.asking, page.message) == ("busy", "kept")
    rows = blocks(replace(shown(table.METHODS["abx"], "busy"), page=page), room(80))
    said = " ".join(" ".join(text([row for block in rows for row in block])).split())
    assert refused.waits[1:] in said
    assert ("in use by another program" in said) is not isinstance(refused, CasebookFull)
