"""What the fields of the desk's forms are called, and refusals that speak of these instead of a command's options.

Sentences of the rooms below name options, since most are read at a terminal. A whole command, which is to be typed,
keeps its options. Pure.
"""

from __future__ import annotations

import re

from ..casebook import name_rule
from ..plans.plan import MOST_TRIALS

LABELS = {
    "trials": "Trials for each listener",
    "listener": "Who listens",
    "setup": "Setups",
    "passage": "Passages",
    "question": "The question the listener is asked",
    "word": "The words that can be ticked",
    "rated": "Words are rated, 0 to 9, instead of ticked",
    "effect": "The difference it is meant to find",
    "alpha": "The error rate accepted (alpha)",
    "ties": "Whether “no preference” may be said, and what becomes of it",
    "one-sided": "The first setup is foreseen to be preferred",
    "controls": "Trials in which all is the same; they never count",
    "operator": "Who runs it, if not the first listener",
    "exploratory": "Not one of the review's primary questions",
    "rate-hz": "Prepare all setups again at so many Hz",
    "by": "Where it was published, or who has it",
    "reading": "Volts, before its trim",
    "after": "Volts, the tone with its trim",
    "why": "Why, for the record",
}
"""By the option that a command has for it; pages take them from here."""

AS_A_TICK = ("exploratory",)  # said of how something is planned, not as what is filled in

AT_DESK = {": earwitness plan abx --listener NAME": "; make one under “Plan a test”"}
"""Commands that have a page here, as they are told where there is nothing yet."""

COMMAND = re.compile(r"(earwitness [^;,]*)")
WORDS = re.compile(r"with --word W \(repeat\) or --words FILE or a,b,c")
ADDED = re.compile(r"\b(add|name (?:two|them) with) (--[a-z-]+)")
OPTION = re.compile(
    r'--([a-z][a-z-]*)((?: "?[A-Z]{2,}"?| [A-Z][A-Z:=]+)*)(?: \S+=VOLTS)?( \((?:repeat|again for each further one)\))?'
)


def spoken(message: str) -> str:
    """A sentence as the desk says it: each option by the label of its field.

    >>> spoken("--trials 5000 is out of range; see earwitness plan abx --trials N")
    '“Trials for each listener” 5000 is out of range; see earwitness plan abx --trials N'
    >>> spoken("closing a plan early needs a reason for the record; add --why TEXT")
    'closing a plan early needs a reason for the record; fill in “Why, for the record”'
    >>> spoken("Planned --exploratory it takes nothing from them.")
    "Planned with “Not one of the review's primary questions” ticked it takes nothing from them."
    """
    for command, page in AT_DESK.items():
        message = message.replace(command, page)
    parts = COMMAND.split(message)
    return "".join(part if number % 2 else _labelled(part) for number, part in enumerate(parts))


def not_whole(field: str, given: object) -> str:
    """What is said to something in a field that takes a whole number."""
    return f"{_quoted(field)} takes a whole number, and {given} was given; type one such as 16"


def out_of_range(field: str, given: object) -> str:
    """What is said to a number that nothing could mean, in a field that a form shows; empty where none does.

    >>> out_of_range("trials", 10**20)
    '“Trials for each listener” 100000000000000000000 is out of range; give 1 to 1000 for each listener'
    >>> out_of_range("track_ms", 10**20)
    ''
    """
    if field not in LABELS or given is None:
        return ""
    number = name_rule.shown(str(given)).strip("'")
    way = f"give 1 to {MOST_TRIALS} for each listener" if field == "trials" else "give a smaller number"
    return f"{_quoted(field)} {number} is out of range; {way}"


def _labelled(text: str) -> str:
    text = ADDED.sub(r"fill in \2", WORDS.sub("in --word", text))
    return OPTION.sub(_named, text)


def _named(found: re.Match[str]) -> str:
    if found[1] not in LABELS:
        return found[0]
    return f"with {_quoted(found[1])} ticked" if found[1] in AS_A_TICK else _quoted(found[1])


def _quoted(option: str) -> str:
    label = LABELS.get(option.replace("_", "-"), option)
    return f"“{label.partition(';')[0]}”"
