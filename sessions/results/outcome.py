"""What the planned test of a plan found: one shape for each kind of analysis. Pure records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from ..casebook import documents

if TYPE_CHECKING:  # names of what is held; half of them would load numpy
    from stats.bradley_terry import Abilities
    from stats.circular_triads import Agreement, CircularTriads
    from stats.hidden_reference import Expertise
    from stats.intervals import Interval
    from stats.multi_stimulus import Summary
    from stats.preference import PreferenceCounts
    from stats.rank_tests import Durbin, RankTest
    from stats.same_different import SameDifferent


@dataclass(frozen=True)
class ListenerResult:
    """One listener's part: planned and answered trials, the count that matters, its p-value; exploratory.

    Count and p-value are None where there is nothing to count or to test. The count is of `counted` trials, which are
    those that enter the test: fewer than were answered where ties are left out.
    """

    listener: str
    trials: int
    answered: int
    correct: int | None
    p_value: float | None
    counted: int | None = None


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What every planned test gives.

    Attributes
    ----------
    reached
        Whether the planned test reached its criterion. None: undecided, since the trials that were not answered could
        have decided either way.
    complete
        Whether every planned trial was answered, or a sequential plan came to its end.
    p_value
        Of a plan closed early the largest of any way in which the missing trials could have gone; None where the
        planned test says nothing of such a plan.
    trials, answered
        Trials that the test rests on, and how many of them were answered.
    least_p
        The least p-value that any answers to these trials could have come to; None where it was not worked out.
    void
        Why the result cannot count, as far as the answers tell.
    """

    reached: bool | None
    complete: bool
    p_value: float | None
    trials: int
    answered: int
    listeners: tuple[ListenerResult, ...] = ()
    least_p: float | None = None
    void: tuple[str, ...] = ()

    def details(self) -> dict[str, Any]:
        """What the method's analysis gives beside these, as plain values."""
        return {}


@dataclass(frozen=True)
class SequentialEnd:
    """How a sequential plan ended: after so many trials of at most so many; its path of right (1) and other answers."""

    rule: str
    stopped_after: int
    most: int
    path: tuple[int, ...]
    e_value: float
    alpha_real: float


@dataclass(frozen=True)
class CouldHaveBeen:
    """Of a plan closed early: the counts (of so many trials) if all missing trials had gone against it, or for it."""

    missing: int
    least: PreferenceCounts
    most: PreferenceCounts

    def to_document(self) -> dict[str, Any]:
        """It as the command line prints it: counts with their trials."""
        return {
            "missing": self.missing,
            "least": {"correct": self.least.for_first, "trials": self.least.trials},
            "most": {"correct": self.most.for_first, "trials": self.most.trials},
        }


@dataclass(frozen=True, kw_only=True)
class Discrimination(Outcome):
    """Of methods whose answers are counted.

    Attributes
    ----------
    correct, counted
        Right answers, of so many that count; in a preference choices of the plan's first setup, after ties.
    could_have_been
        Of a plan of fixed length that was closed early; `p_value`, `interval` and `largest_difference` are then the
        worst of all that its missing trials could have come to.
    criterion
        The count that shows it, after ties; None where no count could, where the number of trials that count is open,
        and of a sequential plan.
    interval, d_prime, largest_difference
        Of the proportion; the sensitivity (None: infinite, or not told); the largest share truly heard that it still
        allows.
    preferred
        The setup preferred, where a preference was heard.
    ties
        How many answers were ties; None where none could be given.
    choices
        The answers that are no ties as they were given: right (or for the first setup), and the others.
    """

    correct: int
    counted: int
    could_have_been: CouldHaveBeen | None = None
    criterion: int | None = None
    interval: Interval | None = None
    d_prime: float | None = None
    d_prime_differencing: float | None = None
    gives_differencing: bool = False
    largest_difference: float | None = None
    preferred: str | None = None
    ties: int | None = None
    ties_policy: str = ""
    choices: tuple[int, int] | None = None
    same_different: SameDifferent | None = None
    sequential: SequentialEnd | None = None

    def details(self) -> dict[str, Any]:
        """The criterion, ties, cells and sequential end, as far as there are any."""
        stated: dict[str, Any] = {}
        if self.sequential is None:
            stated["critical"] = self.criterion
        else:
            stated["sequential"] = documents.plain(self.sequential)
        if self.ties is not None:
            stated |= {"ties": self.ties, "ties_policy": self.ties_policy}
        if self.gives_differencing:
            stated["d_prime_differencing"] = self.d_prime_differencing
        if self.could_have_been is not None:
            stated["could_have_been"] = self.could_have_been.to_document()
        if self.same_different is not None:
            cells = self.same_different.to_document()
            if self.sequential is not None or not self.complete:
                del cells["fisher_p"]  # a test of a fixed number of trials
            stated["same_different"] = cells
        return stated


@dataclass(frozen=True, kw_only=True)
class DifferenceGrades(Outcome):
    """Of grades against a hidden reference: each trial's difference grade, and their means.

    `experts` names the listeners who found the reference reliably, of those with enough answers to be tested by
    themselves. Of a plan closed early there are the grades alone.
    """

    differences: tuple[float, ...]
    every: Expertise | None = None
    by_listener: Mapping[str, Expertise] = field(default_factory=dict)
    experts: tuple[str, ...] = ()
    by_passage: Mapping[str, Expertise] = field(default_factory=dict)

    def details(self) -> dict[str, Any]:
        """The differences, and the means of all, of each listener and of each passage."""
        return {
            "differences": list(self.differences),
            "all": None if self.every is None else asdict(self.every),
            "listeners": {
                name: asdict(one) | {"expert": None if one.p_value is None else name in self.experts}
                for name, one in self.by_listener.items()
            },
            "passages": {name: asdict(one) for name, one in self.by_passage.items()},
        }


@dataclass(frozen=True)
class ComparedPair:
    """Two setups of a multi-stimulus plan: the permutation test of their grades, alone and with Holm's correction.

    `p_error` is the standard error of a p-value that was drawn, `p_draws` by how many draws; None where it is exact.
    """

    setups: tuple[str, str]
    p_value: float
    p_holm: float
    p_error: float | None = None
    p_draws: int | None = None


@dataclass(frozen=True, kw_only=True)
class QualityGrades(Outcome):
    """Of many stimuli graded at once, after post-screening; of a plan closed early the grades alone, of everybody.

    Attributes
    ----------
    kept, excluded, missed_reference
        Listeners; those left out with the reason; those kept who missed the hidden reference, with what they did.
    grades, summaries
        By setup and anchor, of the listeners kept.
    """

    kept: tuple[str, ...]
    grades: Mapping[str, tuple[float, ...]]
    excluded: Mapping[str, str] = field(default_factory=dict)
    summaries: Mapping[str, Summary] = field(default_factory=dict)
    pairs: tuple[ComparedPair, ...] = ()
    missed_reference: Mapping[str, str] = field(default_factory=dict)

    def details(self) -> dict[str, Any]:
        """Screening, grades, summaries and pairs."""
        return {
            "kept": list(self.kept),
            "excluded": dict(self.excluded),
            "missed_reference": dict(self.missed_reference),
            "grades": {name: list(column) for name, column in self.grades.items()},
            "summaries": {name: asdict(summary) for name, summary in self.summaries.items()},
            "pairs": documents.plain(self.pairs),
        }


@dataclass(frozen=True, kw_only=True)
class PairedComparison(Outcome):
    """Of a round robin; of a plan closed early the choices alone.

    Its test says that not all setups are chosen alike, and of none that it is preferred to any other.

    Attributes
    ----------
    setups
        Their names, in the plan's order.
    wins
        For each ordered pair of places, how often the first was chosen over the second.
    abilities
        Bradley and Terry's fit; `no_fit` says why there is none.
    consistency
        Each listener's circular triads; None where a pair was even or not heard.
    p_error, p_draws
        The standard error of a p-value that was drawn, and by how many draws; None where it is exact.
    """

    setups: tuple[str, ...]
    wins: Mapping[tuple[int, int], int]
    abilities: Abilities | None = None
    no_fit: str = ""
    consistency: Mapping[str, CircularTriads | None] = field(default_factory=dict)
    agreement: Agreement | None = None
    friedman: RankTest | None = None
    durbin: Durbin | None = None
    p_error: float | None = None
    p_draws: int | None = None

    @property
    def totals(self) -> dict[str, int]:
        """How often each setup was chosen."""
        return {
            name: sum(won for (one, _), won in self.wins.items() if one == place)
            for place, name in enumerate(self.setups)
        }

    @property
    def by_names(self) -> dict[str, dict[str, int]]:
        """How often each setup was chosen over each other, by their names."""
        return {
            name: {self.setups[other]: won for (one, other), won in self.wins.items() if one == place}
            for place, name in enumerate(self.setups)
        }

    def details(self) -> dict[str, Any]:
        """Wins, abilities, consistency, agreement and the tests by ranks."""
        return {
            "p_error": self.p_error,
            "p_draws": self.p_draws,
            "wins": self.by_names,
            "totals": self.totals,
            "abilities": ({"note": self.no_fit} if self.no_fit else None)
            if self.abilities is None
            else self.abilities.to_document() | {"setups": list(self.setups)},
            "consistency": {name: None if one is None else asdict(one) for name, one in self.consistency.items()},
            "agreement": None if self.agreement is None else asdict(self.agreement),
            "friedman": None if self.friedman is None else asdict(self.friedman),
            "durbin": None
            if self.durbin is None
            else {part: getattr(self.durbin, part) for part in ("chi_square", "freedom", "p_value")},
        }
