"""What a listener has given in a trial so far: grades, ticks or ratings, and what is lacking yet. Pure.

How they are given (keys, buttons) and drawn is the matter of whatever shows them; none is suggested.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation

from ..errors import ListenError
from ..plans.methods.graded import GradedMethod, answer_of
from ..plans.methods.method import Method
from ..plans.methods.rated_ballot import LEAST_RATING, RatedBallot
from ..plans.methods.word_ballot import WordBallot


class GivenGrades:
    """The grades of one trial while they are being given."""

    said = "Your grades"

    def __init__(self, method: GradedMethod) -> None:
        self.method = method
        self.scale = method.scale
        self.given: dict[str, Decimal] = {}

    def typed(self, label: str, text: str) -> str:
        """Take a grade as it was typed, with a point or a comma; why it is none, or nothing."""
        low, high, step = self.scale.low, self.scale.high, self.scale.step
        try:
            grade = Decimal(text.strip().replace(",", "."))
        except InvalidOperation:
            grade = Decimal("NaN")
        if not grade.is_finite() or not low <= grade <= high or grade % step:
            return f"{text.strip() or 'nothing'} is no grade: type {low} to {high}, in steps of {step}"
        self.given[label] = grade.quantize(step)
        return ""

    def lacking(self) -> str:
        """What still keeps the grades from being an answer, in words; empty when nothing does."""
        without = [label for label in self.method.graded if label not in self.given]
        if without:
            return f"grade {' and '.join(without)} as well{self.way}"
        return self.method.lacking(self.given)

    way = ""  # how that is done, where it needs saying

    def answer(self) -> str:
        """The grades as they are kept."""
        return answer_of(self.given)


class GivenTicks:
    """The ticks of one trial while they are being given."""

    def __init__(self, method: WordBallot) -> None:
        self.method = method
        self.given: dict[str, set[str]] = {label: set() for label in method.needed}

    @property
    def said(self) -> str:
        """What the answer is called where it is asked how sure somebody is of it."""
        return "Your ticks" if any(self.given.values()) else "No word is ticked"

    def lacking(self) -> str:
        """Nothing: that no word applies is an answer, too."""
        return ""

    def answer(self) -> str:
        """The ticks as they are kept."""
        return self.method.answer_of({label: tuple(words) for label, words in self.given.items()})


class GivenRatings:
    """The ratings of one trial while they are being given."""

    said = "Your ratings"

    def __init__(self, method: RatedBallot) -> None:
        self.method = method
        self.ratings: dict[str, dict[str, int]] = {label: {} for label in method.needed}

    def lacking(self) -> str:
        """Which words are not rated yet; empty where all are."""
        for label, ratings in self.ratings.items():
            without = [word for word in self.method.shown if word not in ratings]
            if without:
                more = f" and {len(without) - 1} more" if len(without) > 1 else ""
                return f"rate {without[0]}{more} of {label} as well: {LEAST_RATING} is not at all"
        return ""

    def answer(self) -> str:
        """The ratings as they are kept."""
        return self.method.answer_with(self.ratings)


Marks = Mapping[str, str | Sequence[str] | Mapping[str, int]]
"""What a page gives for each label: a grade as text, the words ticked, or the rating of each word."""


def answer_from(method: Method, choice: str, marks: Marks) -> str:
    """The answer that is kept, from what a page gives: one of the method's answers, or marks where it takes such.

    Raises
    ------
    ListenError
        If it is none yet; the message says what is lacking.
    """
    strangers = set(marks) - set(method.stimuli)
    if strangers:
        raise ListenError(f"{min(strangers)!r} is not heard in this trial; it gets no mark")
    if isinstance(method, RatedBallot):
        ratings = GivenRatings(method)
        ratings.ratings |= {label: dict(given) for label, given in marks.items() if isinstance(given, Mapping)}
        return _complete(ratings)
    if isinstance(method, WordBallot):
        ticks = GivenTicks(method)
        for label, given in marks.items():
            words = set() if isinstance(given, str | Mapping) else set(given)
            if not words <= set(method.words):
                raise ListenError(f"{min(words - set(method.words))!r} is no word of this ballot")
            ticks.given[label] = words
        return _complete(ticks)
    if isinstance(method, GradedMethod):
        grades = GivenGrades(method)
        for label, text in marks.items():
            refused = grades.typed(label, text if isinstance(text, str) else "")
            if refused:
                raise ListenError(refused)
        return _complete(grades)
    method.check_answer(choice)
    return choice


def _complete(sheet: GivenGrades | GivenTicks | GivenRatings) -> str:
    lacking = sheet.lacking()
    if lacking:
        raise ListenError(lacking)
    answer = sheet.answer()
    sheet.method.check_answer(answer)
    return answer
