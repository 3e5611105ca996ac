"""Words: of two (or up to six) heard as 1, 2, …, the listener ticks which of the plan's words apply to each.

The words were chosen before the seal. Trials in which both are the same setup tell how often each word changes where
nothing did; they are the plan's controls, and at least one presentation in four is one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Any, ClassVar

from stats.errors import StatsError
from stats.validation import Alternative

from ...casebook import documents
from ...errors import ListenError
from ..randomisation import Coins
from . import words_not_found
from .method import EVERY_SESSION, UNDECIDED, Analysis, Key, Method, Planned
from .words_not_found import percent

USUAL_TRIALS = 24
USUAL_WORDS = 10  # where a power is asked for without naming them
SAME_SHARE = Fraction(1, 4)  # of all presentations, at least: our choice, so that every word has a flip rate
REVERSE_RATE = 0.1  # how often a word is assumed to go the other way round by itself; our choice
NEARNESS = 0.005  # of the greatest effect, to which the smallest one found is known
MANY_IN_WORDS = (
    "for each word a permutation test of the setups' labels within each trial (exact, or by 10,000 draws seeded by the "
    "plan), which of ticks is that of Cochran's Q: each order is as likely if none can be told apart; Holm-corrected "
    "over the words"
)
WANTED = 0.8  # the power with which "likely to be found" is meant, the convention (Cohen 1988, from memory)

Ticks = Mapping[str, Sequence[str]]
"""The words ticked, by the label of what was heard."""


@dataclass(frozen=True)
class WordBallot(Method):
    """Which of two is heard as 1 is a fair coin.

    Attributes
    ----------
    words
        The plan's words, in its order; empty where no plan named them.
    shown
        The same in the order in which one listener sees them.
    how_many
        How many words there are, for the power.
    rated_form
        The ballot on which words are rated instead, where this one has them ticked.
    """

    words: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()
    how_many: int = USUAL_WORDS
    rated_form: WordBallot | None = None

    analysis: ClassVar[Analysis] = "ballots"
    exclusions: ClassVar[str] = EVERY_SESSION + UNDECIDED
    asks_words: ClassVar[bool] = True
    power_of: ClassVar[str] = "for one word at the strictest level of Holm's correction, alpha over the words"

    @property
    def listed(self) -> tuple[str, ...]:
        """The words that can be ticked, in the plan's order."""
        return self.words

    def with_words(self, words: tuple[str, ...]) -> WordBallot:
        """The method with a plan's words."""
        return replace(self, words=words, shown=words, how_many=len(words))

    def asked(self, *, rated: bool) -> WordBallot:
        """The ballot on which words are ticked, or that on which they are rated."""
        return self if not rated or self.rated_form is None else self.rated_form

    @property
    def rating(self) -> Mapping[str, int]:
        """The scale on which words are rated, as plans state it; empty where they are ticked."""
        return {}

    def of_document(self, document: Mapping[str, Any]) -> WordBallot:
        """The method as a plan's document states it, with its words."""
        method = self.asked(rated="rating" in document).with_words(tuple(document["words"]))
        return method.with_labels(len(document["setups"]), ties=False)

    def words_part(self) -> dict[str, Any]:
        """The words, and the scale where they are rated."""
        return {"words": list(self.words)} | ({"rating": dict(self.rating)} if self.rating else {})

    def met(self, coins: Coins, place: int) -> WordBallot:
        """The method as one listener meets it: with the words in the order drawn for them.

        The words are dealt to the columns of a square by the plan's coins; a listener's place in the plan is the row.
        """
        dealt = [self.words[at] for at in coins.permutation("words", len(self.words))]
        rows = balanced_orders(len(dealt))
        return replace(self, shown=tuple(dealt[at] for at in rows[place % len(rows)]))

    def with_labels(self, setups: int, *, ties: bool) -> WordBallot:
        """The method with a label for each setup; all of them are heard in every trial."""
        labels = tuple(str(number) for number in range(1, setups + 1))
        if labels == self.stimuli:
            return self
        return replace(self, stimuli=labels, needed=labels, default_question=self.question_of(labels))

    def question_of(self, labels: tuple[str, ...]) -> str:
        """What is asked where more than two are heard."""
        return f"Which of these words apply to each of {labels[0]} to {labels[-1]}? Tick any number of them, or none."

    @property
    def many(self) -> bool:
        """Whether more than two are heard in a trial."""
        return len(self.stimuli) > 2

    # -- what is heard and answered ----------------------------------------------------------------------------------
    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """The coin says which of the two is heard as 1; of more, a permutation says which is heard as which."""
        if setups > 2:
            return dict(zip(self.stimuli, coins.permutation("order", setups), strict=True))
        first = coins.draw("order", 2)
        return {"1": first, "2": 1 - first}

    def right_answer(self, key: Key) -> str | None:
        """None: no word is right or wrong."""
        return None

    def check_answer(self, answer: str) -> None:
        """Nothing, if these ticks can be given: of each of the two some of the plan's words, or none.

        Raises
        ------
        ListenError
            If they cannot; the message says what can.
        """
        ticks = ticks_of(answer)
        if set(ticks) != set(self.needed):
            raise ListenError(f"ticks are wanted for {', '.join(self.needed)}; got {', '.join(sorted(ticks))}")
        for label, given in ticks.items():
            unknown = [word for word in given if word not in self.words]
            if unknown:
                raise ListenError(f"{unknown[0]!r} is no word of this ballot; tick some of {', '.join(self.words)}")
            if list(given) != [word for word in self.words if word in given]:
                raise ListenError(f"the words ticked of {label} are to be named once each, in the plan's order")

    def answer_of(self, ticks: Ticks) -> str:
        """Ticks as the answer that is kept: the words of each label in the plan's order."""
        return documents.text_of(
            {label: [word for word in self.words if word in ticks.get(label, ())] for label in self.needed}
        )

    def marks_of(self, answer: str) -> dict[str, dict[str, float]]:
        """What each of the plan's words got in an answer, by label: 1 for a tick, 0 for none."""
        return {label: {word: float(word in given) for word in self.words} for label, given in ticks_of(answer).items()}

    # -- what can be planned -----------------------------------------------------------------------------------------
    @property
    def known_possible(self) -> bool:
        """No: a tick says nothing of whether two were told apart."""
        return False

    def least_controls(self, trials: int) -> int:
        """One presentation in four, in which both are the same setup."""
        return ceil(trials * SAME_SHARE / (1 - SAME_SHARE))

    @property
    def usual_effect(self) -> str:
        """How often a word has to be ticked of one alone."""
        return "0.75"

    @property
    def chance_of_effect(self) -> float:
        """As often as the other way round."""
        return REVERSE_RATE

    def usual_trials(self, setups: int, passages: int) -> int:
        """Twenty-four."""
        return USUAL_TRIALS

    def alternative(self, *, one_sided: bool) -> Alternative:
        """Two-sided: of which of the two a word is said is not foreseen."""
        return "two-sided"

    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""
        if self.many:
            return MANY_IN_WORDS
        return (
            "for each word an exact test of the trials in which it was ticked of one of the two alone (McNemar): each "
            "of them is a fair coin if the two cannot be told apart; two-sided, Holm-corrected over the words"
        )

    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence."""
        if self.many:
            return (
                f"a word is ticked of one of the setups in {percent(float(effect))} of the trials, and of each other "
                f"in {percent(REVERSE_RATE)}"
            )
        return (
            f"a word is ticked of one of the two alone in {percent(float(effect))} of the trials, and of the other "
            f"alone in {percent(_reverse(float(effect)))}"
        )

    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """The power for one word (of two setups exactly) at the strictest level that Holm's correction asks of it."""
        if setups > 2:
            from stats import many_setups_power

            many = many_setups_power.ticks_power(effect, REVERSE_RATE, setups, trials, alpha / self.how_many)
            return Planned(None, many.power, many.error, many.least, many.by)
        from stats import ballot_power

        found = ballot_power.ballot_power(effect, _reverse(effect), trials, self.how_many, alpha)
        return Planned(None, found, None, ballot_power.least_differing(self.how_many, alpha), "exact")

    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """By the same test."""
        if setups > 2:
            return self.needed_by(lambda trials: self.planned(trials, effect, alpha, alternative, setups), wanted)
        from stats import ballot_power

        found = ballot_power.pairs_needed(effect, _reverse(effect), self.how_many, alpha, wanted)
        if found is None:
            raise StatsError(
                f"more than {ballot_power.MOST_PAIRS} trials would be needed to find it with power {wanted:g}"
            )
        return found

    def needed_by(self, planned: Callable[[int], Planned], wanted: float) -> int:
        """The first number of trials of more than two setups with the power wanted.

        Raises
        ------
        StatsError
            If more would be needed than are searched.
        """
        from stats import many_setups_power

        found = many_setups_power.trials_needed(lambda trials: planned(trials).power, planned(1).least_trials, wanted)
        if found is None:
            raise StatsError(
                f"more than {many_setups_power.MOST_TRIALS} trials would be needed to find it with power {wanted:g}"
            )
        return found

    def found_from(self, trials: int, alpha: float, most: float) -> dict[str, Any]:
        """From which effect on a word of more than two setups is likely found, up to the most there is."""
        low, high = self.chance_of_effect, most
        if self.planned(trials, high, alpha, "two-sided", len(self.stimuli)).power < WANTED:
            return {"likely_found_from": "none"}
        while high - low > NEARNESS * most:
            middle = (low + high) / 2
            enough = self.planned(trials, middle, alpha, "two-sided", len(self.stimuli)).power >= WANTED
            low, high = (low, middle) if enough else (middle, high)
        return {"likely_found_from": f"{high:.4f}"}

    def also_planned(self, trials: int, alpha: float) -> dict[str, Any]:
        """How often a word has to be ticked of one alone to be likely found; none where nothing is."""
        if self.many:
            return self.found_from(trials, alpha, 1.0)
        from stats import ballot_power

        found = ballot_power.what_can_be_found(trials, self.how_many, alpha, REVERSE_RATE, WANTED).smallest_rate
        return {"likely_found_from": "none" if found is None else f"{found:.4f}"}

    def planned_in_words(self, document: Mapping[str, Any]) -> list[str]:
        """The words, the trials in which nothing changes, and what so many trials can find at all."""
        lines = [f"Words, in the order given: {', '.join(document['words'])}."]
        of, found = among_words(document), document["likely_found_from"]
        if found == "none":
            told = words_not_found.ticked_of_many if self.many else words_not_found.ticked_of_two
            return [*lines, f"{of}, {told(document, REVERSE_RATE, WANTED)}"]
        if self.many:
            return [
                *lines,
                f"{of}, only a word ticked of one of the setups in at least about {percent(float(found))} of the "
                f"trials (and of each other in {percent(REVERSE_RATE)}, which is taken for granted) is likely to be "
                "found.",
            ]
        return [
            *lines,
            f"{of}, only a word ticked of one of the two alone in at least about {percent(float(found))} of the "
            f"trials (and of the other alone in {percent(REVERSE_RATE)}, which is taken for granted) is likely to be "
            "found.",
        ]


def ticks_of(answer: str) -> dict[str, list[str]]:
    """The words ticked in an answer, by label.

    Raises
    ------
    ListenError
        If it holds no ticks.
    """
    try:
        found = documents.value_of(answer)
        ticks = {str(label): list(words) for label, words in found.items() if isinstance(words, list)}
        usable = len(ticks) == len(found) and all(isinstance(word, str) for words in ticks.values() for word in words)
    except (ValueError, AttributeError) as error:
        raise ListenError(f"{answer!r} holds no ticks") from error
    if not usable:
        raise ListenError(f"{answer!r} holds no ticks")
    return ticks


def among_words(document: Mapping[str, Any]) -> str:
    """How many trials and words a plan has, as the beginning of a sentence."""
    words, trials = len(document["words"]), words_not_found.trials_of(document)
    of_all = "" if len(document["listeners"]) == 1 else " of all listeners"
    return f"With {trials} trials{of_all} and {'1 word' if words == 1 else f'{words} words'}"


def balanced_orders(number: int) -> list[list[int]]:
    """A Latin square of orders in which each item also comes right after each other one equally often.

    The first row is 0, 1, n − 1, 2, n − 2, …; each next one adds 1 to each, modulo n. For an odd number their mirror
    images follow (Williams, Aust. J. Sci. Res. A 2, 1949; from memory).
    """
    first = [(place + 1) // 2 if place % 2 else (number - place // 2) % number for place in range(number)]
    rows = [[(item + row) % number for item in first] for row in range(number)]
    return rows if number % 2 == 0 else rows + [row[::-1] for row in rows]


def _reverse(effect: float) -> float:
    """How often the other alone gets the tick beside such an effect: the two are of the same trials."""
    return min(REVERSE_RATE, 1 - effect)


WORD_BALLOT = WordBallot(
    "words",
    "Tick which of the plan's words apply to each of two.",
    ("1", "2"),
    ("1", "2"),
    {},
    "Which of these words apply to 1, and which to 2? Tick any number of them, or none.",
    (2, 6),
)
