"""The planned test of a ballot of words: for each word an exact test, all of them by Holm's correction. Pure.

Beside it stands how often each word changes where nothing does, from the trials in which both were the same setup. A
plan closed early has its ticks, and no test.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from stats.flip_rate import flip_rate
from stats.holm import holm
from stats.paired_ticks import exact_p

from ..plans.methods.word_ballot import ticks_of
from ..plans.plan import Plan
from .answers import Answer, SessionAnswers
from .ballot_outcomes import BallotWord, WordBallots
from .outcome import ListenerResult
from .own_words import by_listener

Pair = tuple[Sequence[str], Sequence[str]]
"""The words ticked of the first and of the second of two."""
Sides = tuple[bool, bool]
"""Whether a word was ticked of the first and of the second of two."""


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> WordBallots:
    """What the planned test of a ballot found; `planned` trials of all these sessions together."""
    words = plan.document["words"]
    answered = sum(len(own.counted) for own in sessions)
    whole = answered >= planned
    counted = [_by_setup(one) for own in sessions for one in own.counted]
    controls = [_by_label(one) for own in sessions for one in own.controls]
    ticked, same = ({word: _sides(word, pairs) for word in words} for pairs in (counted, controls))
    alone = [_alone(ticked[word]) for word in words]
    p_values = [exact_p(*counts) for counts in alone]
    corrected = holm(p_values) if whole else [None] * len(words)
    p_value = min((p for p in corrected if p is not None), default=None)
    return WordBallots(
        reached=None if p_value is None else p_value <= plan.alpha,
        complete=whole,
        p_value=p_value,
        trials=planned,
        answered=answered,
        listeners=tuple(ListenerResult(own.listener, own.planned, len(own.counted), None, None) for own in sessions),
        setups=(plan.setups[0].name, plan.setups[1].name),
        words=tuple(
            BallotWord(
                word,
                *counts,
                sum(first and second for first, second in ticked[word]),
                answered,
                p if whole else None,
                p_holm,
                flip_rate(sum(_alone(same[word])), len(same[word])) if same[word] else None,
                noisy=_as_noisy(ticked[word], same[word]),
            )
            for word, counts, p, p_holm in zip(words, alone, p_values, corrected, strict=True)
        ),
        by_listener=by_listener(plan, sessions),
    )


def _by_setup(one: Answer) -> Pair:
    """The words ticked of the plan's first, and of its second setup."""
    ticked = {one.key[label]: words for label, words in ticks_of(one.answer).items()}
    return ticked[0], ticked[1]


def _by_label(one: Answer) -> Pair:
    """The words ticked of what was heard as 1, and of what was heard as 2."""
    ticked = ticks_of(one.answer)
    return ticked["1"], ticked["2"]


def _sides(word: str, pairs: Sequence[Pair]) -> list[Sides]:
    return [(word in first, word in second) for first, second in pairs]


def _alone(ticked: Iterable[Sides]) -> tuple[int, int]:
    """In how many trials a word was ticked of the first alone, and of the second alone."""
    sides = list(ticked)
    return sides.count((True, False)), sides.count((False, True))


def _as_noisy(ticked: Sequence[Sides], same: Sequence[Sides]) -> bool:
    """Whether a word changes as often, of all trials, where nothing changed as between the two setups."""
    flips = sum(_alone(same))
    return flips > 0 and Fraction(flips, len(same)) >= Fraction(sum(_alone(ticked)), len(ticked))
