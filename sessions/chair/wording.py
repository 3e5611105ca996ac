"""What is said in the chair, in the same words on a terminal and on a page. Texts alone."""

from __future__ import annotations

from .word_lines import USUAL_STRENGTH

SURENESS = {1: "a guess", 2: "leaning", 3: "fairly sure", 4: "certain"}
LEAST_STRENGTH, MOST_STRENGTH = "a trace", "overwhelming"
STRENGTHS = f"strength 1 ({LEAST_STRENGTH}) to 5 ({MOST_STRENGTH}), Enter: {USUAL_STRENGTH}"
QUIET = "Start quiet and turn up slowly. How loud it is at your ears is not known here; rest them."
BACK = "the sound is back; this trial starts afresh"
KEPT = "kept"
REST = "Twenty minutes are over: a rest helps."
COMING = "One moment: a trial is on its way."
NO_SOUND = "No sound: waiting for the device."
GOES_ON = "Nothing is lost; it goes on by itself."
KEEPS_FAILING = "The sound keeps being disturbed: no trial comes by itself."


def missing(needed: tuple[str, ...], heard: frozenset[str]) -> str:
    """What is to be heard before an answer is taken; empty where nothing is.

    >>> missing(("1", "2"), frozenset("1"))
    'hear 2 before you answer'
    """
    without = [label for label in needed if label not in heard]
    return f"hear {' and '.join(without)} before you answer" if without else ""


def strongly(step: int) -> str:
    """A strength with what its ends are called.

    >>> strongly(1), strongly(2)
    ('1: a trace', '2')
    """
    ends = {1: LEAST_STRENGTH, 5: MOST_STRENGTH}
    return f"{step}: {ends[step]}" if step in ends else str(step)
