"""Methods whose answers are grades on a scale, given to several stimuli of a trial."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import ClassVar

from stats.estimates import PowerEstimate
from stats.validation import Alternative

from ...casebook import documents
from ...errors import ListenError, PlanError
from .method import REFERENCE, Key, Method, Planned

LARGE_EFFECT = "0.8"  # a large effect after Cohen 1988 (from memory); common practice
MOST_SD = 5


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


NO_SCALE = Scale(Decimal(0), Decimal(0), Decimal(1), ((Decimal(0), ""),))


@dataclass(frozen=True)
class GradedMethod(Method):
    """A method with grades.

    Attributes
    ----------
    scale, graded
        The scale, and the stimuli that get a grade on it.
    """

    scale: Scale = NO_SCALE
    graded: tuple[str, ...] = field(default=())

    first_is_reference: ClassVar[bool] = True
    named_stimuli: ClassVar[tuple[str, ...]] = (REFERENCE,)
    effect_in_sd: ClassVar[bool] = True

    def right_answer(self, key: Key) -> str | None:
        """None: grades are not right or wrong."""
        return None

    def check_answer(self, answer: str) -> None:
        """Nothing, if these grades can be given.

        Raises
        ------
        ListenError
            If they cannot; the message says what can.
        """
        grades = grades_of(answer)
        if set(grades) != set(self.graded):
            raise ListenError(f"grades are wanted for {', '.join(self.graded)}; got {', '.join(sorted(grades))}")
        for label, grade in grades.items():
            if not self.scale.low <= grade <= self.scale.high or grade % self.scale.step:
                raise ListenError(
                    f"the grade of {label} is {grade}; give {self.scale.low} to {self.scale.high} in steps of "
                    f"{self.scale.step}"
                )
        lacking = self.lacking(grades)
        if lacking:
            raise ListenError(lacking)

    def lacking(self, grades: Mapping[str, Decimal]) -> str:
        """What still keeps complete grades from being an answer, in words; empty when nothing does."""
        return ""

    @property
    def usual_effect(self) -> str:
        """The mean difference in standard deviations to be found where nobody says another."""
        return LARGE_EFFECT

    @property
    def chance_of_effect(self) -> float:
        """No difference."""
        return 0.0

    def check_effect(self, effect: str) -> None:
        """Nothing, if this effect can be looked for.

        Raises
        ------
        PlanError
            If not; the message says what can.
        """
        if not 0 < float(effect) <= MOST_SD:
            raise PlanError(
                f"--effect {effect} is out of range; for {self.name} give the mean difference to be found in "
                "standard deviations, above 0 and up to 5"
            )

    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence."""
        return f"the mean difference is {effect} standard deviations"

    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """The power of the planned test; grades have no criterion to count up to."""
        found = self.power(trials, effect, alpha, setups)
        return Planned(None, found.power, found.error, found.least, found.by)

    @abstractmethod
    def power(self, trials: int, effect: float, alpha: float, setups: int) -> PowerEstimate:
        """The power of the planned test, by that very test."""


def grades_of(answer: str) -> dict[str, Decimal]:
    """The grades of an answer, by label.

    Raises
    ------
    ListenError
        If it holds no grades.
    """
    try:
        return {str(label): Decimal(str(grade)) for label, grade in documents.value_of(answer).items()}
    except (ValueError, ArithmeticError, AttributeError) as error:
        raise ListenError(f"{answer!r} holds no grades") from error


def answer_of(grades: Mapping[str, Decimal]) -> str:
    """Grades as the answer that is kept."""
    return documents.text_of({label: str(grade) for label, grade in grades.items()})
