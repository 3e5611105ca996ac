"""The blind methods as data: what is heard, what is asked, what can be answered. The keys of trials are in `keys`.

A trial's key maps each stimulus the listener can hear to a place: that of a setup in the plan, or of an anchor after
the last setup.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations
from typing import Any, Literal

from ..errors import ListenError

Key = dict[str, int]

REFERENCE = "R"  # the open reference, where a method has one
TIE = "T"
MOST_SIGNALS = 9  # hidden ones in a multi-stimulus trial: one key each. ITU-R BS.1534-3, 5.3: 12 at most

Family = Literal["count", "grades", "pairs"]


@dataclass(frozen=True)
class Scale:
    """A grading scale: its ends, its step, and what its steps are called (from ITU-R BS.1116 and BS.1534)."""

    low: Decimal
    high: Decimal
    step: Decimal
    names: tuple[tuple[Decimal, str], ...]

    def name(self, grade: Decimal) -> str:
        """What a grade is called: the name of the highest step it reaches."""
        return next((name for at, name in reversed(self.names) if grade >= at), self.names[0][1])


@dataclass(frozen=True)
class Method:
    """One blind method.

    Attributes
    ----------
    stimuli
        What can be heard in a trial, by the label the listener sees.
    needed
        What must be heard before an answer is taken.
    answers
        What can be chosen: label to sentence; empty where grades are given.
    default_question
        Asked when the plan names no other.
    family
        How answers are judged: counted, as grades, or as pairs of many setups.
    scale, graded
        Of methods with grades: the scale, and the stimuli that get one.
    setups
        The least and the greatest number of setups.
    usual_trials
        For each listener, where nobody says another number; 0: it follows from the setups or passages.
    """

    name: str
    stimuli: tuple[str, ...]
    needed: tuple[str, ...]
    answers: Mapping[str, str]
    default_question: str
    family: Family = "count"
    scale: Scale | None = None
    graded: tuple[str, ...] = ()
    setups: tuple[int, int] = (2, 2)
    usual_trials: int = 16

    @property
    def asks_preference(self) -> bool:
        """Whether an answer is a choice of a setup, with nothing right or wrong."""
        return self.name in ("preference", "round-robin")

    def check_answer(self, answer: str) -> None:
        """Nothing, if this can be answered.

        Raises
        ------
        ListenError
            If it cannot; the message says what can.
        """
        if self.scale is None:
            if answer not in self.answers:
                raise ListenError(f"{answer!r} is no answer here; answer {' or '.join(self.answers)}")
            return
        grades = grades_of(answer)
        if set(grades) != set(self.graded):
            raise ListenError(f"grades are wanted for {', '.join(self.graded)}; got {', '.join(sorted(grades))}")
        for label, grade in grades.items():
            if not self.scale.low <= grade <= self.scale.high or grade % self.scale.step:
                raise ListenError(
                    f"the grade of {label} is {grade}; give {self.scale.low} to {self.scale.high} in steps of "
                    f"{self.scale.step}"
                )
        if self.name == "hidden-reference" and max(grades.values()) != self.scale.high:
            raise ListenError(f"one of {' and '.join(self.graded)} is the reference: give it {self.scale.high}")


# Labels of ITU-R BS.1116 (five-grade impairment scale, from memory) and BS.1534-3, 5.4 (bands of the quality scale).
IMPAIRMENT = Scale(
    Decimal("1.0"),
    Decimal("5.0"),
    Decimal("0.1"),
    (
        (Decimal(1), "very annoying"),
        (Decimal(2), "annoying"),
        (Decimal(3), "slightly annoying"),
        (Decimal(4), "perceptible, but not annoying"),
        (Decimal(5), "imperceptible"),
    ),
)
QUALITY = Scale(
    Decimal(0),
    Decimal(100),
    Decimal(1),
    tuple((Decimal(20 * step), name) for step, name in enumerate(("bad", "poor", "fair", "good", "excellent"))),
)

_PAIR = {"1": "the first", "2": "the second"}
ABX = Method("abx", ("A", "B", "X"), ("X",), {"A": "X is A", "B": "X is B"}, "Is X the same as A or as B?")
PREFERENCE = Method("preference", ("1", "2"), ("1", "2"), _PAIR, "Which of the two do you prefer?")
TRIANGLE = Method(
    "triangle",
    ("1", "2", "3"),
    ("1", "2", "3"),
    {"1": "1 is the odd one", "2": "2 is the odd one", "3": "3 is the odd one"},
    "Two of the three are the same. Which is the odd one?",
)
DUO_TRIO = Method(
    "duo-trio",
    (REFERENCE, "1", "2"),
    (REFERENCE, "1", "2"),
    {"1": "1 equals the reference", "2": "2 equals the reference"},
    "Which of the two equals the reference?",
)
TETRAD = Method(
    "tetrad",
    ("1", "2", "3", "4"),
    ("1", "2", "3", "4"),
    {
        "2": "1 and 2 belong together, 3 and 4",
        "3": "1 and 3 belong together, 2 and 4",
        "4": "1 and 4 belong together, 2 and 3",
    },
    "Sort the four into two pairs: which one belongs to 1?",
)
SAME_DIFFERENT = Method(
    "same-different",
    ("1", "2"),
    ("1", "2"),
    {"S": "they are the same", "D": "they are different"},
    "Are the two the same or different?",
)
HIDDEN_REFERENCE = Method(
    "hidden-reference",
    (REFERENCE, "1", "2"),
    (REFERENCE, "1", "2"),
    {},
    "One of the two is the reference. Grade how far each is impaired against it.",
    family="grades",
    scale=IMPAIRMENT,
    graded=("1", "2"),
    usual_trials=10,
)
MULTI_STIMULUS = Method(
    "multi-stimulus",
    (REFERENCE,),
    (REFERENCE,),
    {},
    "Grade the quality of each against the reference; one of them is the reference itself.",
    family="grades",
    scale=QUALITY,
    setups=(2, MOST_SIGNALS - 2),
    usual_trials=0,
)
ROUND_ROBIN = Method(
    "round-robin",
    ("1", "2"),
    ("1", "2"),
    _PAIR,
    "Which of the two do you prefer?",
    family="pairs",
    setups=(3, 8),
    usual_trials=0,
)
METHODS = {
    method.name: method
    for method in (
        ABX,
        PREFERENCE,
        TRIANGLE,
        DUO_TRIO,
        TETRAD,
        SAME_DIFFERENT,
        HIDDEN_REFERENCE,
        MULTI_STIMULUS,
        ROUND_ROBIN,
    )
}
ANCHORS_HZ = (3500, 7000)  # ITU-R BS.1534-3, 5.1: low and mid anchor


def of(document: Mapping[str, Any]) -> Method:
    """The method of a plan's document, with the labels that its setups and its ties policy ask for."""
    method = METHODS[document["method"]]
    if method is MULTI_STIMULUS:
        graded = tuple(str(n) for n in range(1, len(document["setups"]) + len(ANCHORS_HZ) + 1))
        return replace(method, stimuli=(REFERENCE, *graded), needed=(REFERENCE, *graded), graded=graded)
    if document.get("ties", "not offered") != "not offered":
        return replace(method, answers={**method.answers, TIE: "neither: no preference"})
    return method


def pairs(setups: int) -> list[tuple[int, int]]:
    """All pairs of so many setups."""
    return list(combinations(range(setups), 2))


def usual_trials(method: Method, setups: int, passages: int) -> int:
    """Trials for each listener where nobody says another number.

    Multi-stimulus: each passage twice (ITU-R BS.1534-3, 4.1: at least one replicate). Round robin: each pair four
    times.
    """
    if method is MULTI_STIMULUS:
        return 2 * passages
    if method is ROUND_ROBIN:
        return 4 * len(pairs(setups))
    return method.usual_trials


def grades_of(answer: str) -> dict[str, Decimal]:
    """The grades of an answer, by label.

    Raises
    ------
    ListenError
        If it holds no grades.
    """
    try:
        return {str(label): Decimal(str(grade)) for label, grade in json.loads(answer).items()}
    except (ValueError, ArithmeticError, AttributeError) as error:
        raise ListenError(f"{answer!r} holds no grades") from error


def answer_of(grades: Mapping[str, Decimal]) -> str:
    """Grades as the answer that is kept."""
    return json.dumps({label: str(grade) for label, grade in grades.items()}, sort_keys=True)


def score(method: str, trial_key: Key, answer: str) -> int:
    """1 for a right answer, or for a choice of the plan's first setup; otherwise 0.

    Of methods whose answers are counted. A tie is neither: leave it out before.
    """
    if method == ABX.name:
        return int(trial_key[answer] == trial_key["X"])
    if method == TRIANGLE.name:
        return int(list(trial_key.values()).count(trial_key[answer]) == 1)
    if method == DUO_TRIO.name:
        return int(trial_key[answer] == trial_key[REFERENCE])
    if method == TETRAD.name:
        return int(trial_key[answer] == trial_key["1"])
    if method == SAME_DIFFERENT.name:
        return int((answer == "S") == (trial_key["1"] == trial_key["2"]))
    return int(trial_key[answer] == 0)


def chance_of(method: str) -> float:
    """The share right by guessing."""
    from stats.counted_methods import COUNTED_METHODS

    return float(COUNTED_METHODS[method].chance)
