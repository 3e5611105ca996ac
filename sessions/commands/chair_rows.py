"""The rows of the listening screen: from what may be shown to lines of text, in as many columns as there are. Pure.

Nothing here depends on the key of a trial: it is given labels only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audio.track_time import told

from ..chair.word_lines import HERE
from ..chair.wording import COMING, GOES_ON, KEEPS_FAILING, NO_SOUND, REST, STRENGTHS, SURENESS
from ..listening.now import Now
from ..listening.write_queue import WAITS, sentence
from ..plans.methods.graded import GradedMethod
from ..plans.methods.method import Method
from .chair_page import Page
from .window_text import Block, Row, Span, Style, hints, sentences

NARROWEST = 40
APART = 9  # columns from one label to the next
LISTEN_ON, TAKE_BACK = "Esc: listen on", "Esc: take it back"
ONE_ROW = 50  # columns in which choices may stand side by side


@dataclass(frozen=True)
class Shown:
    """What the screen may show at a moment.

    Attributes
    ----------
    disturbed, warning
        What the trial runner says; empty for nothing.
    waiting
        For what is waited because the casebook cannot be written; empty for nothing.
    begins_anew
        Whether what is stopped now begins anew later: a rehearsal.
    """

    title: str
    question: str
    method: Method
    now: Now
    page: Page
    disturbed: str = ""
    warning: str = ""
    waiting: str = ""
    begins_anew: bool = False


def blocks(shown: Shown, wide: int) -> list[Block]:
    """The page in rows of so many columns, in blocks that belong together."""
    now, page = shown.now, shown.page
    title = sentences(f"{shown.title}  ·  trial {now.trial} of {now.trials}", wide, "dim")
    question = sentences(shown.question, wide, "bold")
    stimuli = _labels(shown.method.stimuli, now, wide) if page.sheet is None else page.sheet.rows(now, wide)
    said = [row for text in _messages(shown) for row in sentences(text, wide, "dim")]
    return [title, question, _music(now, wide), stimuli, _asked(shown, wide), said]


def _labels(labels: Sequence[str], now: Now, wide: int) -> list[Row]:
    """The labels side by side, and below each whether it is on, or was heard."""
    rows: list[Row] = []
    in_a_row = max(1, wide // APART)
    for first in range(0, len(labels), in_a_row):
        row = list(enumerate(labels[first : first + in_a_row]))
        names = [Span(f"  {label}  ", APART * place, _style(label, now)) for place, label in row]
        states = [Span(_state(label, now), APART * place, "dim") for place, label in row]
        rows += [tuple(names), tuple(states)]
    return rows


def _style(label: str, now: Now) -> Style:
    return "marked" if label == now.playing else "plain"


def _state(label: str, now: Now) -> str:
    return " ▲ on " if label == now.playing else " heard" if label in now.heard else ""


def _music(now: Now, wide: int) -> list[Row]:
    """The passage's name, where the music is in it, and its length; the loop, where there is one."""
    length = told(now.length_s, 1)
    place = f"{told(min(now.position_s, now.length_s), 1)} of {length}"
    if now.paused:
        place = f"paused at {place}"
    elif now.playing is None:
        place = f"silent at {place}" if now.position_s > 0 else f"silent; it lasts {length}"
    rows = sentences(f"Passage {now.passage}: {place}", wide)
    if now.loop_s is not None:
        first, end = (told(moment, 3) for moment in now.loop_s)
        rows += sentences(f"Loop: {first} to {end}, over and over", wide)
    return rows


def _messages(shown: Shown) -> list[str]:
    page = shown.page
    disturbed = shown.disturbed if page.asking in ("hear", "next", "disturbed", "word", "strength") else ""
    return [text for text in (disturbed, _message(shown)) if text]


def _message(shown: Shown) -> str:
    page = shown.page
    if page.asking == "busy":
        return ""  # what the next trial will say is not true yet
    if shown.waiting:
        return shown.waiting
    if shown.now.rest_due and not page.message:
        return f"{REST} Press k when you have had one."
    return page.message or shown.warning


def _asked(shown: Shown, wide: int) -> list[Row]:
    """What is asked, and what the keys do."""
    page, method = shown.page, shown.method
    if page.asking == "answer":
        choices = [f"{label.lower()}: {what}" for label, what in method.answers.items()]
        if sum(map(len, choices)) > ONE_ROW:
            own_rows = [row for choice in choices for row in sentences(choice, wide, indent=2)]
            return [*sentences("Your answer?", wide), *own_rows, *hints([LISTEN_ON], wide, 2)]
        return [*sentences("Your answer?", wide), *hints(choices, wide, 2), *hints([LISTEN_ON], wide, 2)]
    if page.asking == "sureness":
        steps = [f"{step}: {what}" for step, what in SURENESS.items()]
        said = page.sheet.said if page.sheet is not None else method.answers[page.answer]
        return [
            *sentences(f"{said[:1].upper()}{said[1:]}. How sure?", wide),
            *hints(steps, wide, 2),
            *hints([TAKE_BACK], wide, 2),
        ]
    asked, keys = _plainly_asked(shown)
    return [*sentences(asked, wide), *hints(keys, wide, 2)] if asked else _hearing(shown, wide)


def _plainly_asked(shown: Shown) -> tuple[str, list[str]]:
    """A sentence and the keys that count now; an empty one while the trial is heard."""
    page = shown.page
    match page.asking:
        case "word":
            return f"A word for {page.belongs_to}: {page.line.text}_", [
                HERE,
                "Enter: keep",
                "Esc: leave it",
            ]
        case "strength":
            return f"{page.line.words}: {STRENGTHS}", ["Esc: leave it"]
        case "grade":
            return f"The grade of {page.belongs_to}{_ends(shown.method)}: {page.line.text}_", [
                "Enter: take it",
                "Esc: leave it as it was",
            ]
        case "device":
            return NO_SOUND, [GOES_ON, "q: stop"]
        case "disturbed":
            return KEEPS_FAILING, ["Enter: try again", "q: stop"]
        case "busy":
            return sentence(shown.waiting or page.waits) or WAITS, ["It goes on by itself.", "q: stop"]
        case "next":  # the next one, or a disturbed one again
            return COMING, []
        case "leave":
            later = "This rehearsal would begin anew." if shown.begins_anew else "The session can be taken up again."
            return f"Stop here? {later}", ["y: stop", LISTEN_ON]
        case _:
            return "", []


def _ends(method: Method) -> str:
    if not isinstance(method, GradedMethod):
        return ""
    scale = method.scale
    return f", {scale.low} ({scale.name(scale.low)}) to {scale.high} ({scale.name(scale.high)})"


def _hearing(shown: Shown, wide: int) -> list[Row]:
    labels = "  ".join(label.lower() for label in shown.method.stimuli)
    sheet = shown.page.sheet
    hears = f"{labels}: hear" if sheet is None else sheet.hears or f"{labels}: hear"
    groups = [[hears, "s: from the start", "space: pause" if sheet is None else sheet.pauses]]
    groups += [["Enter: answer", "w: log a word", "q: stop"]] if sheet is None else sheet.hints()
    groups += [["i: loop from here", "o: loop to here", *(["u: no loop"] if shown.now.loop_s is not None else [])]]
    return [row for group in groups for row in hints(group, wide)]
