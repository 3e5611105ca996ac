"""The words of all blind ballots between the same setups, taken together: counts, an exact test, agreement. Pure.

What is computed here comes after the plans' own verdicts and changes none of them: it is exploratory. Which setup was
heard as which is drawn anew in every trial, so that each trial is a block of its own; whatever the listener, the track
or the week did to a word, it did to both alike. Pooling such blocks mixes no listener with another, nor tracks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stats.flip_rate import flip_rate
from stats.holm import holm
from stats.paired_ticks import exact_p

from .presented_words import BallotTrials, Marks, Presented

if TYPE_CHECKING:
    from stats.agreement import Agreement, Scale
    from stats.flip_rate import FlipRate

Same = Sequence[tuple[Marks, ...]]


@dataclass(frozen=True)
class Counted:
    """Trials of one kind: in how many a word was ticked of the first setup alone, of the second alone, of both.

    Of ratings: in how many it was rated higher of the first, of the second; alike above 0; and its mean ratings.
    """

    first_only: int
    second_only: int
    both: int
    trials: int
    means: tuple[float, float] | None = None


@dataclass(frozen=True)
class InPlan:
    """A word in one plan and week; `heard` says whether that plan's own verdict holds it heard.

    `by_ballot_alone`: enough by that ballot itself, and not together with the other plans, so that it does not hold.
    """

    plan: str
    week: str
    counts: Counted
    heard: bool
    by_ballot_alone: bool = False


@dataclass(frozen=True)
class InBlock:
    """A word with one listener and one track (its identifier)."""

    listener: str
    track: str
    counts: Counted


@dataclass(frozen=True)
class PooledWord:
    """A word in all ballots between two setups.

    Attributes
    ----------
    counts
        Of all trials.
    p_value, p_holm
        The exact test of all trials (the sign test of ticks; of ratings the permutation of the setups' labels
        within each trial), and the same with Holm's correction over the words that were asked for of these setups.
    flips
        How often it changed where both were the same; None where no such trial was answered.
    listeners, weeks
        How far listeners agree, and how far each listener agrees with themselves from week to week; None where nobody
        else, or no other week, met the same setup and track.
    """

    word: str
    counts: Counted
    p_value: float
    p_holm: float
    flips: FlipRate | None
    listeners: Agreement | None
    weeks: Agreement | None
    plans: tuple[InPlan, ...]
    blocks: tuple[InBlock, ...]


@dataclass(frozen=True)
class PooledBallots:
    """All ballots of one kind between two setups: their names, plans, weeks, who listened, and each word."""

    setups: tuple[str, str]
    rated: bool
    plans: tuple[str, ...]
    weeks: tuple[str, ...]
    listeners: tuple[str, ...]
    trials: int
    words: tuple[PooledWord, ...]


@dataclass(frozen=True)
class JudgedBallot:
    """A ballot that was taken to its end and holds: its trials, and the words (by headword) its verdict holds heard.

    `alone` are those that only the ballot by itself bears.
    """

    trials: BallotTrials
    heard: frozenset[str]
    alone: frozenset[str] = frozenset()


def pooled(ballots: Sequence[JudgedBallot]) -> list[PooledBallots]:
    """The ballots of each pair of setups together, ticks and ratings apart, as they were first met."""
    pairs: dict[tuple[frozenset[str], bool], list[JudgedBallot]] = {}
    for one in ballots:
        plan = one.trials.plan
        pairs.setdefault((frozenset(setup.id for setup in plan.setups), bool(plan.ballot.rating)), []).append(one)
    return [_of_pair(own, rated=rated) for (_, rated), own in pairs.items()]


def _of_pair(ballots: Sequence[JudgedBallot], *, rated: bool) -> PooledBallots:
    first, second = ballots[0].trials.plan.setups
    counted = [trial for one in ballots for trial in one.trials.counted]
    same = [trial for one in ballots for trial in one.trials.same]
    words = list(dict.fromkeys(word for trial in counted for own in trial.marks.values() for word in own))
    setups = (first.id, second.id)
    alone = {word: counted_of(word, counted, setups, rated=rated) for word in words}
    p_values = [p_of(word, counted, setups, rated=rated) for word in words]
    scale: Scale = "interval" if rated else "nominal"
    heard = {one.trials.plan.name: one.heard for one in ballots}
    by_itself = {one.trials.plan.name: one.alone for one in ballots}
    return PooledBallots(
        (first.name, second.name),
        rated,
        tuple(heard),
        tuple(sorted({trial.week for trial in counted})),
        tuple(dict.fromkeys(trial.listener for trial in counted)),
        len(counted),
        tuple(
            PooledWord(
                word,
                alone[word],
                p_value,
                p_holm,
                _flips(word, same),
                agreed(word, counted, lambda trial: trial.listener, lambda _: "", scale),
                agreed(word, counted, lambda trial: trial.week, lambda trial: trial.listener, scale),
                tuple(
                    InPlan(
                        plan,
                        week,
                        counted_of(word, own, setups, rated=rated),
                        word in heard[plan],
                        word in by_itself[plan],
                    )
                    for (plan, week), own in _grouped(counted, word, lambda trial: (trial.plan, trial.week))
                ),
                tuple(
                    InBlock(listener, track, counted_of(word, own, setups, rated=rated))
                    for (listener, track), own in _grouped(counted, word, lambda trial: (trial.listener, trial.track))
                ),
            )
            for word, p_value, p_holm in zip(words, p_values, holm(p_values), strict=True)
        ),
    )


def agreed(
    word: str,
    trials: Sequence[Presented],
    observer: Callable[[Presented], str],
    within: Callable[[Presented], str],
    scale: Scale = "nominal",
) -> Agreement | None:
    """How far observers agree on a word; None where no two of them met the same thing.

    A unit is one setup with one track (`within` the same listener, say); the first time one observer met it stands
    beside the first time of each other, the second beside the second, and so on. No answer is compared with another of
    the same observer.
    """
    from stats.agreement import agreement  # it loads numpy

    met: dict[tuple[str, ...], int] = defaultdict(int)
    units: dict[tuple[str | int, ...], list[float]] = defaultdict(list)
    for trial in sorted(trials, key=lambda one: one.at):
        for setup, marks in trial.marks.items():
            if word in marks:
                unit = (within(trial), trial.track, setup)
                turn = met[*unit, observer(trial)] = met[*unit, observer(trial)] + 1
                units[*unit, turn].append(marks[word])
    rows = [row for row in units.values() if len(row) > 1]
    return agreement(rows, scale) if rows else None


def _grouped(
    trials: Iterable[Presented], word: str, kind: Callable[[Presented], tuple[str, str]]
) -> list[tuple[tuple[str, str], list[Presented]]]:
    """The trials that asked for a word by their kind, in the order in which each kind was first met."""
    found: dict[tuple[str, str], list[Presented]] = {}
    for trial in trials:
        if word in _any(trial):
            found.setdefault(kind(trial), []).append(trial)
    return list(found.items())


def counted_of(word: str, trials: Iterable[Presented], setups: tuple[str, str], *, rated: bool) -> Counted:
    """A word's trials with two setups (by identifier), where others may have been heard too."""
    marks = [tuple(trial.marks[setup][word] for setup in setups) for trial in trials if word in _any(trial)]
    more, less = sum(one > other for one, other in marks), sum(one < other for one, other in marks)
    both = sum(one == other > 0 for one, other in marks)
    first, second = (sum(own) / len(own) for own in zip(*marks, strict=True))
    return Counted(more, less, both, len(marks), (first, second) if rated else None)


def p_of(word: str, trials: Sequence[Presented], setups: tuple[str, str], *, rated: bool) -> float:
    """The exact p of a word between two setups: the sign test of ticks, of ratings every exchange of the two labels."""
    if rated:
        from stats.sign_flips import two_sided_p  # it loads numpy

        return two_sided_p(_differences(word, trials, setups), decimals=0)
    found = counted_of(word, trials, setups, rated=False)
    return exact_p(found.first_only, found.second_only)


def _differences(word: str, trials: Iterable[Presented], setups: tuple[str, str]) -> list[float]:
    """In each trial how much more a word got of the first setup than of the second."""
    first, second = setups
    return [trial.marks[first][word] - trial.marks[second][word] for trial in trials if word in _any(trial)]


def _any(trial: Presented) -> Marks:
    return next(iter(trial.marks.values()))


def _flips(word: str, same: Same) -> FlipRate | None:
    asked = [[own[word] for own in marks] for marks in same if word in marks[0]]
    return flip_rate(sum(len(set(own)) > 1 for own in asked), len(asked)) if asked else None
