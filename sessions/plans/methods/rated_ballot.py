"""Words, rated: of two heard as 1 and 2, the listener says by a digit how far each of the plan's words applies to each.

All else is that of a ballot of ticks: the words and their order, the coin, the trials in which both are the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Any, ClassVar

from stats import rating_scale
from stats.validation import Alternative

from ...casebook import documents
from ...errors import ListenError
from . import words_not_found
from .graded import LARGE_EFFECT, MOST_SD, GradedMethod
from .method import Planned
from .word_ballot import MANY_IN_WORDS, WANTED, WordBallot, among_words

LEAST_RATING, MOST_RATING = rating_scale.LEAST, rating_scale.MOST
NEARNESS = 0.02  # standard deviations to which the smallest difference found is known

Ratings = Mapping[str, Mapping[str, int]]
"""The rating of each word, by the label of what was heard."""


@dataclass(frozen=True)
class RatedBallot(WordBallot):
    """A ballot of ratings from 0 (not at all) to 9 (very much)."""

    effect_in_sd: ClassVar[bool] = True
    power_assumes: ClassVar[str] = (
        f"ratings are whole numbers, {LEAST_RATING} to {MOST_RATING}; those of one setup spread by "
        f"{rating_scale.SPREAD:g} points from trial to trial (their standard deviation), or less where the difference "
        "would not fit the scale"
    )

    @property
    def rating(self) -> Mapping[str, int]:
        """The scale, as plans state it."""
        return {"from": LEAST_RATING, "to": MOST_RATING}

    def question_of(self, labels: tuple[str, ...]) -> str:
        """What is asked where more than two are heard."""
        ends = f"{LEAST_RATING}: not at all; {MOST_RATING}: very much"
        return f"How far does each word apply to each of {labels[0]} to {labels[-1]}? {ends}."

    def check_answer(self, answer: str) -> None:
        """Nothing, if it rates each of the plan's words for each of the two.

        Raises
        ------
        ListenError
            If it does not; the message says what is wanted.
        """
        given = ratings_of(answer)
        if set(given) != set(self.needed):
            raise ListenError(f"ratings are wanted for {', '.join(self.needed)}; got {', '.join(sorted(given))}")
        for label, ratings in given.items():
            if set(ratings) != set(self.words):
                raise ListenError(f"each word is to be rated of {label}: {', '.join(self.words)}")
            for word, rating in ratings.items():
                if not LEAST_RATING <= rating <= MOST_RATING:
                    raise ListenError(
                        f"the rating of {word!r} is {rating}; give a whole number, {LEAST_RATING} to {MOST_RATING}"
                    )

    def answer_with(self, ratings: Ratings) -> str:
        """Ratings as the answer that is kept."""
        return documents.text_of({label: dict(ratings[label]) for label in self.needed})

    def marks_of(self, answer: str) -> dict[str, dict[str, float]]:
        """What each of the plan's words got in an answer, by label: its rating."""
        return {
            label: {word: float(ratings[word]) for word in self.words} for label, ratings in ratings_of(answer).items()
        }

    # -- what can be planned -----------------------------------------------------------------------------------------
    @property
    def usual_effect(self) -> str:
        """The mean difference in standard deviations to be found where nobody says another."""
        return LARGE_EFFECT

    @property
    def chance_of_effect(self) -> float:
        """No difference."""
        return 0.0

    check_effect = GradedMethod.check_effect

    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence."""
        if self.many:
            return (
                f"one setup is rated higher on a word than every other by {effect} times as much as ratings of one and "
                f"the same setup vary from trial to trial (their standard deviation: {self._in_points(effect)})"
            )
        return (
            f"a word's ratings of the two differ on average by {effect} times as much as that difference scatters from "
            f"trial to trial (its standard deviation: {self._in_points(effect)})"
        )

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        if self.many:
            return MANY_IN_WORDS
        return (
            "for each word an exact permutation test of the two setups' labels within each trial, by the sum of the "
            "differences of its ratings: each sign is a fair coin if the two cannot be told apart; two-sided, "
            "Holm-corrected over the words"
        )

    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """The power for one word at the strictest level that Holm's correction asks of it."""
        if setups > 2:
            from stats import many_setups_power

            many = many_setups_power.ratings_power(effect, setups, trials, alpha / self.how_many)
            return Planned(None, many.power, many.error, many.least, many.by)
        from stats import rated_pairs_power

        found = rated_pairs_power.power(trials, effect, alpha / self.how_many)
        return Planned(None, found.power, found.error, found.least, found.by)

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """By the same test."""
        if setups > 2:
            return self.needed_by(lambda trials: self.planned(trials, effect, alpha, alternative, setups), wanted)
        from stats import rated_pairs_power

        return rated_pairs_power.sample_size(effect, wanted, alpha / self.how_many)

    def also_planned(self, trials: int, alpha: float) -> dict[str, Any]:
        """How far a word's ratings have to differ to be likely found, in standard deviations; none where nothing is.

        Student's t says about where; then it is enlarged until the planned test itself finds it.
        """
        if self.many:
            return self.found_from(trials, alpha, float(MOST_SD))
        from stats import rated_pairs_power, sign_flip_power, t_test_power

        share = alpha / self.how_many
        if trials < sign_flip_power.least_trials(share, two_sided=True):
            return {"likely_found_from": "none"}
        low, high = 0.0, float(MOST_SD)
        while high - low > NEARNESS:
            middle = (low + high) / 2
            enough = t_test_power.power(trials, middle, share, two_sided=True) >= WANTED
            low, high = (low, middle) if enough else (middle, high)
        while high <= MOST_SD and rated_pairs_power.power(trials, high, share).power < WANTED:
            high *= 1.03
        return {"likely_found_from": "none" if high > MOST_SD else f"{high:.4f}"}

    def planned_in_words(self, document: Mapping[str, Any]) -> list[str]:
        """The words, the scale, and what so many trials can find at all."""
        scale, found = document["rating"], document["likely_found_from"]
        lines = [
            f"Words, in the order given: {', '.join(document['words'])}; "
            f"each is rated of {'all' if self.many else 'both'}, {scale['from']} (not "
            f"at all) to {scale['to']} (very much)."
        ]
        if found == "none":
            return [*lines, f"{among_words(document)}, {words_not_found.rated(document, MOST_SD)}"]
        if self.many:
            return [
                *lines,
                f"{among_words(document)}, a word is likely to be found only if one setup is rated higher on it than "
                f"every other by at least about {float(found):.2f} times as much as ratings of one and the same setup "
                f"vary from trial to trial ({self._in_points(found)}).",
            ]
        return [
            *lines,
            f"{among_words(document)}, a word is likely to be found only if its ratings of the two differ on average "
            f"by at least about {float(found):.2f} times as much as that difference varies from trial to trial"
            f" ({self._in_points(found)}).",
        ]

    def _in_points(self, effect: str) -> str:
        """An effect in points of the scale, where ratings spread as they are simulated to; of two, each spreads."""
        from stats.simulated_ratings import WIDEST

        lift_sd = float(effect) * (1 if self.many else sqrt(2))
        spread = min(rating_scale.SPREAD, WIDEST / lift_sd)
        return f"about {lift_sd * spread:.1f} points of the scale, where ratings of one setup vary by {spread:.1f}"


def ratings_of(answer: str) -> dict[str, dict[str, int]]:
    """The ratings in an answer, by label and word.

    Raises
    ------
    ListenError
        If it holds none.
    """
    try:
        found = {str(label): dict(ratings) for label, ratings in documents.value_of(answer).items()}
    except (ValueError, TypeError, AttributeError) as error:
        raise ListenError(f"{answer!r} holds no ratings") from error
    if not all(type(rating) is int for ratings in found.values() for rating in ratings.values()):
        raise ListenError(f"{answer!r} holds no ratings: each is a whole number")
    return found


RATED_BALLOT = RatedBallot(
    "words",
    "Rate how far each of the plan's words applies to each of two.",
    ("1", "2"),
    ("1", "2"),
    {},
    f"How far does each word apply to 1, and to 2? {LEAST_RATING}: not at all; {MOST_RATING}: very much.",
    (2, 6),
)
