"""What the listener is asked at the moment, and what a key makes of it. It draws nothing; the trial runner keeps.

Nothing here depends on the key of a trial, on earlier answers, or on how long anything took.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

from ..chair.word_lines import USUAL_STRENGTH, typed_here
from ..chair.wording import KEPT, missing
from ..errors import CasebookBusy, CatalogueError
from ..listening.trial_runner import TrialRunner
from ..plans.methods.graded import GradedMethod
from ..plans.methods.method import Method
from ..plans.methods.rated_ballot import RatedBallot
from ..plans.methods.word_ballot import WordBallot
from . import keyboard
from .grade_sheet import Sheet
from .line_editor import LineEditor
from .rating_sheet import RatingSheet
from .tick_sheet import TickSheet

GRADE_LENGTH = 6
Hearing = Literal["hear", "answer", "sureness", "word", "strength", "grade", "leave"]
Between = Literal["stop", "done", "again", "disturbed", "next", "device", "busy", "finished"]
UNHEARD = ("done", "again", "disturbed", "device", "busy", "finished")  # no trial on these pages could be disturbed
TYPING = ("word", "strength", "leave")  # a disturbed trial waits until this is done

KeepWord = Callable[[str, int, str, int, str], bool]
"""Keeps a word: term, strength, stimulus label, milliseconds in the track, note; whether it is on disk already."""


@dataclass
class Page:
    """What the screen says besides the trial itself.

    Attributes
    ----------
    line
        What is being typed: a word, or a grade.
    belongs_to, track_ms
        The label that was heard when the typing began, and where in the track.
    note
        What was typed in brackets behind the word.
    waits
        For what the next trial waits, where it could not be read or kept.
    """

    message: str = ""
    asking: Hearing | Between = "hear"
    answer: str = ""
    line: LineEditor = field(default_factory=LineEditor)
    belongs_to: str = ""
    track_ms: int = 0
    sheet: Sheet | TickSheet | None = None
    note: str = ""
    waits: str = ""


def fresh(runner: TrialRunner, message: str) -> Page:
    """The page of a trial nobody has heard yet."""
    return Page(message=message, sheet=sheet_of(runner.method))


def sheet_of(method: Method) -> Sheet | TickSheet | None:
    """The empty sheet on which a trial is answered; None of methods that ask for one of their answers."""
    if isinstance(method, RatedBallot):
        return RatingSheet(method)
    if isinstance(method, WordBallot):
        return TickSheet(method)
    return Sheet(method) if isinstance(method, GradedMethod) else None


def turned(key: str, runner: TrialRunner, page: Page, keep_word: KeepWord) -> Page:
    """The page after a key; grades given stay with the trial."""
    then = _turned(key, runner, page, keep_word)
    if page.asking in TYPING and then.asking == "hear" and runner.disturbed:  # meanwhile: the trial comes again
        then = Page(asking="done", message=then.message)
    if then.sheet is None and then.asking not in ("done", "stop"):
        then.sheet = page.sheet
    return then


def _turned(key: str, runner: TrialRunner, page: Page, keep_word: KeepWord) -> Page:
    letter = key.lower() if len(key) == 1 else ""
    if page.asking in ("device", "busy", "disturbed"):
        if page.asking == "disturbed" and key == keyboard.ENTER:
            runner.take_up()
            return Page(asking="again")
        return Page(asking="stop") if letter == "q" else page
    if page.asking in ("word", "strength"):
        return _word_turn(key, page, keep_word)
    if page.asking == "grade":
        return _grade_turn(key, page)
    if page.asking == "hear":
        said = None if page.sheet is None else page.sheet.turn(key, runner.now().playing)
        if said is not None:
            return Page(message=said)
        return _hear_turn(key, letter, runner, page.sheet)
    if key in (keyboard.ESCAPE, keyboard.BACKSPACE):
        return Page(message="taken back; listen on")
    if page.asking == "answer" and letter.upper() in runner.method.answers:
        return Page(asking="sureness", answer=letter.upper())
    if page.asking == "sureness" and key in ("1", "2", "3", "4"):
        try:
            fault = runner.answer(page.answer, int(key))
        except CasebookBusy:
            return Page(asking="busy", message=KEPT)
        return Page(asking="done", message="" if fault else KEPT)
    if page.asking == "leave" and letter == "y":
        return Page(asking="stop")
    return page


def _hear_turn(key: str, letter: str, runner: TrialRunner, sheet: Sheet | TickSheet | None) -> Page:
    if letter == " " and isinstance(sheet, RatingSheet):
        runner.hear(sheet.next_after(runner.now().playing))
    elif letter.upper() in runner.method.stimuli:
        runner.hear(letter.upper())
    elif letter == "s":
        runner.restart()
    elif letter == " " or letter == "p":  # where a sheet takes the space bar for itself
        runner.pause()
    elif letter == "k":
        runner.rested()
    elif letter == "i":
        return Page(message=runner.loop_from_here())
    elif letter == "o":
        return Page(message=runner.loop_to_here())
    elif letter == "u":
        runner.no_loop()
    elif letter == "w" or (letter == "g" and isinstance(sheet, Sheet)):
        return _typing(letter, runner)
    elif key == keyboard.ENTER:
        if not runner.may_answer():
            return Page(message=missing(runner.method.needed, runner.now().heard))
        if sheet is None:
            return Page(asking="answer")
        lacking = sheet.lacking()
        return Page(message=lacking) if lacking else Page(asking="sureness", answer=sheet.answer())
    elif letter == "q":
        return Page(asking="leave")
    return Page()


def _typing(letter: str, runner: TrialRunner) -> Page:
    """The page on which a word or a grade is typed for what is heard."""
    now = runner.now()
    what = "word" if letter == "w" else "grade"
    if now.playing is None:
        return Page(message=f"play something first; a {what} belongs to what you hear")
    if what == "word":
        return Page(asking="word", belongs_to=now.playing, track_ms=runner.track_ms())
    if isinstance(runner.method, GradedMethod) and now.playing not in runner.method.graded:
        return Page(message=f"{now.playing} is the reference; it gets no grade")
    return Page(asking="grade", belongs_to=now.playing, line=LineEditor(longest=GRADE_LENGTH))


def _word_turn(key: str, page: Page, keep_word: KeepWord) -> Page:
    if key == keyboard.ESCAPE:
        return Page(message="no word kept")
    if page.asking == "strength":
        if key not in ("1", "2", "3", "4", "5", keyboard.ENTER):
            return page
        return _kept(page, keep_word, USUAL_STRENGTH if key == keyboard.ENTER else int(key))
    if key != keyboard.ENTER:
        page.line.turn(key)
        page.message = f"{page.line.longest} letters at most; Enter keeps what stands there" if page.line.full else ""
        return page
    if not page.line.words:
        return Page()
    try:
        term, strength, note = typed_here(page.line.words)
    except CatalogueError as error:
        page.message = str(error)
        return page
    named = replace(page, asking="strength", message="", line=LineEditor(term), note=note, sheet=None)
    return named if strength is None else _kept(named, keep_word, strength)


def _kept(page: Page, keep_word: KeepWord, strength: int) -> Page:
    """The page after a word is kept."""
    word = page.line.words
    kept = keep_word(word, strength, page.belongs_to, page.track_ms, page.note)
    return Page(message=f"kept the word: {word}" if kept else "")


def _grade_turn(key: str, page: Page) -> Page:
    if key == keyboard.ESCAPE or not isinstance(page.sheet, Sheet):
        return Page(message="the grade is as it was")
    if key == keyboard.ENTER:
        refused = page.sheet.typed(page.belongs_to, page.line.text)
        line = LineEditor(longest=GRADE_LENGTH)  # what was refused is told; the next digit begins anew
        return Page(asking="grade", belongs_to=page.belongs_to, line=line, message=refused) if refused else Page()
    if len(key) > 1 or key in "0123456789.,":
        page.line.turn(key)
        page.message = ""
    return page
