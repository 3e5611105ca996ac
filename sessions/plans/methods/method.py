"""What every blind method carries: what is heard and asked, its key, its score, its planned test, its words.

A trial's key maps each stimulus the listener can hear to a place: that of a setup in the plan, or of an anchor after
the last setup. A new method is a module of its own, a class of `counted`, `graded` or `Method` itself, and a
row in `table`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, ClassVar, Literal

from stats.validation import Alternative

from ...errors import ListenError, PlanError
from ..randomisation import Coins

Key = dict[str, int]

REFERENCE = "R"  # the open reference, where a method has one
TIE = "T"

Analysis = Literal["count", "difference grades", "quality grades", "pairs", "ballots"]
"""How answers are judged: counted, as grades against a reference, as grades of many, as pairs of many, or as ticks."""

EVERY_SESSION = "none: every session of the plan counts, stopped and abandoned ones too; "
UNDECIDED = "a plan closed early is undecided"


@dataclass(frozen=True)
class Planned:
    """What a planned test asks for, and what it finds.

    Attributes
    ----------
    criterion
        The count that shows it; None where no count could, or none is asked.
    power, power_error
        Its power; the standard error of that where it was simulated, otherwise None.
    least_trials
        The fewest trials with which the test can reach alpha at all.
    power_by
        How the power was found.
    """

    criterion: int | None
    power: float
    power_error: float | None
    least_trials: int
    power_by: str


@dataclass(frozen=True)
class Method(ABC):
    """One blind method.

    Attributes
    ----------
    about
        What it is, in a sentence for the command line.
    stimuli
        What can be heard in a trial, by the label the listener sees.
    needed
        What must be heard before an answer is taken.
    answers
        What can be chosen: label to sentence; empty where grades are given.
    default_question
        Asked when the plan names no other.
    setups
        The least and the greatest number of setups.
    """

    name: str
    about: str
    stimuli: tuple[str, ...]
    needed: tuple[str, ...]
    answers: Mapping[str, str]
    default_question: str
    setups: tuple[int, int] = (2, 2)

    analysis: ClassVar[Analysis]
    exclusions: ClassVar[str]  # the rule about who and what is left out, as plans state it
    asks_preference: ClassVar[bool] = False  # an answer is a choice of a setup, with nothing right or wrong
    ties_possible: ClassVar[bool] = False
    side_foreseeable: ClassVar[bool] = False  # the plan may foresee which setup is preferred
    controls_possible: ClassVar[bool] = True
    first_is_reference: ClassVar[bool] = False
    named_stimuli: ClassVar[tuple[str, ...]] = ()  # those whose setup the listener knows: nothing said of them is blind
    anchors_hz: ClassVar[tuple[int, ...]] = ()  # low-pass corners of anchors made from the reference
    effect_in_sd: ClassVar[bool] = False  # the effect is a mean difference in standard deviations, not a proportion
    power_of: ClassVar[str] = ""  # what its power is that of, where that is not the whole test
    power_assumes: ClassVar[str] = ""  # what a simulated power takes for granted of the answers
    asks_words: ClassVar[bool] = False  # a plan of it names words
    trials_follow: ClassVar[bool] = False  # from setups or passages, where nobody says another number

    # -- what is heard and answered ----------------------------------------------------------------------------------
    @abstractmethod
    def key(self, coins: Coins, setups: int, counted: int) -> Key:
        """The key of a trial, drawn from its coins; `counted` is its number among those that count, from 1."""

    def control_key(self, coins: Coins, setups: int) -> Key:
        """The key of a trial in which everything is the same setup."""
        return dict.fromkeys(self.stimuli, coins.draw("control", setups))

    def known_key(self, key: Key, known: int) -> Key:
        """The key of a trial of the known difference: the first setup, and that place instead of the second."""
        return {label: known if place else 0 for label, place in key.items()}

    def finds(self, key: Key, answer: str) -> bool:
        """Whether an answer tells apart what is heard in a trial, as of a known difference; where that can be."""
        raise NotImplementedError(self.name)

    @property
    def chance_of_finding(self) -> Fraction:
        """How often guessing does so, at most."""
        return Fraction(1, 2)

    @abstractmethod
    def right_answer(self, key: Key) -> str | None:
        """What a listener who hears it answers; None where grades are given, or nothing would be right."""

    def with_labels(self, setups: int, *, ties: bool) -> Method:
        """The method with the labels that so many setups, and an offer of ties, ask for."""
        return replace(self, answers={**self.answers, TIE: "neither: no preference"}) if ties else self

    @property
    def listed(self) -> tuple[str, ...]:
        """The words that can be ticked, in the plan's order."""
        return ()

    def with_words(self, words: tuple[str, ...]) -> Method:
        """The method with the words of a plan, where it asks for some."""
        return self

    def asked(self, *, rated: bool) -> Method:
        """The method in the form that is wished for: words rated instead of ticked.

        Raises
        ------
        PlanError
            If it has no such form.
        """
        if rated:
            raise PlanError(f"{self.name} has no words to be rated; leave --rated out")
        return self

    def words_part(self) -> dict[str, Any]:
        """What a plan states of its words, where it has some."""
        return {}

    def of_document(self, document: Mapping[str, Any]) -> Method:
        """The method as a plan's document states it."""
        ties = document.get("ties", "not offered") != "not offered"
        return self.with_labels(len(document["setups"]), ties=ties)

    def met(self, coins: Coins, place: int) -> Method:
        """The method as one listener meets it: the coins are the plan's own, the place is that in its listeners."""
        return self

    def check_answer(self, answer: str) -> None:
        """Nothing, if this can be answered.

        Raises
        ------
        ListenError
            If it cannot; the message says what can.
        """
        if answer not in self.answers:
            raise ListenError(f"{answer!r} is no answer here; answer {' or '.join(self.answers)}")

    # -- what can be planned -----------------------------------------------------------------------------------------
    def least_controls(self, trials: int) -> int:
        """How many controls a plan of so many trials has at least, for each listener."""
        return 0

    def also_planned(self, trials: int, alpha: float) -> dict[str, Any]:
        """What a plan states of its test beside its power; `trials` of all listeners."""
        return {}

    def planned_in_words(self, document: Mapping[str, Any]) -> list[str]:
        """What is to be said of a plan of this method beside its test and its power."""
        return []

    @property
    @abstractmethod
    def usual_effect(self) -> str:
        """The effect to be found where nobody says another."""

    @abstractmethod
    def usual_trials(self, setups: int, passages: int) -> int:
        """Trials for each listener where nobody says another number."""

    @abstractmethod
    def planned(self, trials: int, effect: float, alpha: float, alternative: Alternative, setups: int) -> Planned:
        """What the planned test of a fixed number of trials (of all listeners) asks for and finds."""

    @abstractmethod
    def trials_needed(self, effect: float, wanted: float, alpha: float, alternative: Alternative, setups: int) -> int:
        """The first number of trials (of all listeners) with which a plan of fixed length has the power wanted.

        Raises
        ------
        StatsError
            If more would be needed than are searched.
        """

    @abstractmethod
    def alternative(self, *, one_sided: bool) -> Alternative:
        """The side of the planned test."""

    @abstractmethod
    def test_in_words(self, alternative: Alternative) -> str:
        """The planned test, as plans state it."""

    @abstractmethod
    def effect_in_words(self, effect: str) -> str:
        """An effect as the condition of a sentence: «the true proportion is 0.75»."""

    @property
    @abstractmethod
    def chance_of_effect(self) -> float:
        """The effect where there is nothing to be found; a planned one lies above it."""

    @property
    def sequential_possible(self) -> bool:
        """Whether it can stop early by a sequential rule."""
        return self.analysis == "count"

    @property
    def rule_out_possible(self) -> bool:
        """Whether a plan can mean to rule a difference out: where answers are right or wrong."""
        return self.analysis == "count" and not self.asks_preference

    @property
    def known_possible(self) -> bool:
        """Whether a plan can mix in a known difference: an answer says whether two were told apart."""
        return self.setups[1] == 2 and not self.asks_preference

    def check_setups(self, number: int) -> None:
        """Nothing, if so many setups can be compared.

        Raises
        ------
        PlanError
            If not; the message says how many can.
        """
        least, most = self.setups
        if least <= number <= most:
            return
        if most == 2:
            raise PlanError(f"{self.name} compares two setups, this casebook has {number}; name two with --setup")
        extra = " (the first is the reference)" if self.first_is_reference else ""
        raise PlanError(
            f"{self.name} compares {least} to {most} setups{extra}, this casebook has {number}; name them with --setup"
        )

    def check_trials(self, trials: int, setups: int) -> None:  # noqa: B027 - most methods take any number
        """Nothing, if a plan of so many setups can have so many trials.

        Raises
        ------
        PlanError
            If not; the message says which numbers fit.
        """

    def fits(self, trials: int, setups: int) -> bool:
        """Whether a plan of so many setups can have so many trials."""
        try:
            self.check_trials(trials, setups)
        except PlanError:
            return False
        return True

    @property
    def effect_bounds(self) -> str:
        """The range of the proportion to find, in words."""
        return f"above {self.chance_of_effect:.2g} and up to 1"

    def check_effect(self, effect: str) -> None:
        """Nothing, if this effect can be looked for.

        Raises
        ------
        PlanError
            If not; the message says what can.
        """
        chance = self.chance_of_effect
        if not chance < float(effect) <= 1 or f"{float(effect):.4f}" == f"{chance:.4f}":
            raise PlanError(f"--effect {effect} is out of range; give the proportion to find, {self.effect_bounds}")
