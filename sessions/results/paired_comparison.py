"""The planned test of a round robin, and what Bradley-Terry, ranks and triads say beside it. Pure.

It is computed from plain choices, so that choices kept elsewhere go the same way as a plan's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stats import bradley_terry, circular_triads, rank_tests, round_robin
from stats.bradley_terry import Abilities
from stats.circular_triads import Agreement, CircularTriads
from stats.errors import StatsError
from stats.rank_tests import Durbin, RankTest

from ..plans.methods.round_robin import pairs
from ..plans.plan import Plan
from .answers import Answer, SessionAnswers
from .outcome import ListenerResult, PairedComparison


@dataclass(frozen=True)
class Choice:
    """One comparison: the places of the setups heard first and second, and whether the first was chosen."""

    first: int
    second: int
    chose_first: bool

    @property
    def winner_loser(self) -> tuple[int, int]:
        """The places of the setup chosen and of the other."""
        return (self.first, self.second) if self.chose_first else (self.second, self.first)


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> PairedComparison:
    """What the planned test of a plan found; `planned` comparisons of all these sessions together."""
    given = {own.listener: [choice(one) for one in own.counted] for own in sessions}
    per_pair = planned // len(pairs(len(plan.setups)))
    planned_each = {own.listener: own.planned for own in sessions}
    if sum(len(own) for own in given.values()) < planned:
        return _closed_early(given, planned_each, plan.places, planned)
    return paired_comparison(given, planned_each, plan.places, per_pair, plan.alpha, plan.seed)


def choice(one: Answer) -> Choice:
    """The choice that an answer is."""
    return Choice(one.key["1"], one.key["2"], one.answer == "1")


def paired_comparison(
    given: Mapping[str, Sequence[Choice]],
    planned_each: Mapping[str, int],
    names: Sequence[str],
    per_pair: int | Mapping[tuple[int, int], int],
    alpha: float,
    seed: int,
) -> PairedComparison:
    """The randomisation test that all setups are chosen equally often, and what stands beside it.

    Parameters
    ----------
    given, planned_each
        Each listener's choices, and how many comparisons were planned for them.
    names
        The setups, by place.
    per_pair
        Comparisons of each pair of places, all listeners together.
    """
    from numpy.random import PCG64, Generator

    every = [one for own in given.values() for one in own]
    setups = len(names)
    wins = _wins(every, setups)
    heard = {pair: per_pair if isinstance(per_pair, int) else per_pair.get(pair, 0) for pair in pairs(setups)}
    counts = {pair: (float(wins[pair]), number) for pair, number in heard.items() if number}
    tested = round_robin.equality_test(counts, Generator(PCG64(seed)))
    p_value = tested.value
    abilities, no_fit = _abilities(every, setups)
    return PairedComparison(
        reached=p_value <= alpha,
        complete=True,
        p_value=p_value,
        trials=len(every),
        answered=len(every),
        least_p=round_robin.least_p(heard),
        listeners=tuple(ListenerResult(name, planned_each[name], len(own), None, None) for name, own in given.items()),
        setups=tuple(names),
        wins=wins,
        abilities=abilities,
        no_fit=no_fit,
        consistency={name: _consistency(own, setups) for name, own in given.items()},
        agreement=_agreement(list(given.values()), setups),
        friedman=_friedman(list(given.values()), setups),
        durbin=_durbin(every),
        p_error=tested.error,
        p_draws=tested.draws,
    )


def _closed_early(
    given: Mapping[str, Sequence[Choice]], planned_each: Mapping[str, int], names: Sequence[str], planned: int
) -> PairedComparison:
    """The choices that were made, and no test."""
    every = [one for own in given.values() for one in own]
    return PairedComparison(
        reached=None,
        complete=False,
        p_value=None,
        trials=planned,
        answered=len(every),
        listeners=tuple(ListenerResult(name, planned_each[name], len(own), None, None) for name, own in given.items()),
        setups=tuple(names),
        wins=_wins(every, len(names)),
    )


def _wins(choices: Sequence[Choice], setups: int) -> dict[tuple[int, int], int]:
    wins = {(one, two): 0 for one in range(setups) for two in range(setups) if one != two}
    for one in choices:
        wins[one.winner_loser] += 1
    return wins


def _abilities(choices: Sequence[Choice], setups: int) -> tuple[Abilities | None, str]:
    """The fit, or the reason why there is none."""
    counts: dict[tuple[int, int], list[int]] = {}
    for one in choices:
        counts.setdefault((one.first, one.second), [0, 0])[0 if one.chose_first else 1] += 1
    comparisons = [bradley_terry.Comparison(i, j, won, lost) for (i, j), (won, lost) in sorted(counts.items())]
    try:
        found = bradley_terry.fit(comparisons, order_effect=True)
    except StatsError as error:
        return None, str(error)
    if len(found.abilities) < setups:
        return None, "some setups were never compared"
    return found, ""


def _preferences(choices: Sequence[Choice], setups: int) -> list[list[int]]:
    table = [[0] * setups for _ in range(setups)]
    for one in choices:
        won, lost = one.winner_loser
        table[won][lost] += 1
    return table


def _consistency(choices: Sequence[Choice], setups: int) -> CircularTriads | None:
    """Circular triads in what the listener mostly preferred; None where a pair was even or not heard."""
    table = _preferences(choices, setups)
    if any(table[i][j] == table[j][i] for i in range(setups) for j in range(i)):
        return None
    mostly = [[int(table[i][j] > table[j][i]) for j in range(setups)] for i in range(setups)]
    return circular_triads.circular_triads(mostly)


def _agreement(given: Sequence[Sequence[Choice]], setups: int) -> Agreement | None:
    """Kendall's agreement of listeners, each with what they mostly preferred; None below two of them."""
    tables = [_preferences(own, setups) for own in given]
    judged = [table for table in tables if all(table[i][j] != table[j][i] for i in range(setups) for j in range(i))]
    if len(judged) < 2:
        return None
    counts = [[sum(table[i][j] > table[j][i] for table in judged) for j in range(setups)] for i in range(setups)]
    return circular_triads.agreement(counts)


def _friedman(given: Sequence[Sequence[Choice]], setups: int) -> RankTest | None:
    """Friedman's test of each listener's numbers of choices; None below three listeners."""
    if len(given) < 3:
        return None
    try:
        return rank_tests.friedman([[sum(row) for row in _preferences(own, setups)] for own in given])
    except StatsError:
        return None


def _durbin(choices: Sequence[Choice]) -> Durbin | None:
    """Durbin's test with every comparison as a block of two; None while the pairs are not equally heard."""
    try:
        return rank_tests.durbin([list(one.winner_loser) for one in choices], [[2, 1] for _ in choices])
    except (StatsError, ValueError):
        return None
