"""The planned test of a ballot of ratings: an exact permutation test of each word, all by Holm's correction. Pure.

Which of the two was heard as 1 is a fair coin in every trial, so that in each of them the two setups' labels can be
exchanged: for two, that is to give the difference of the two ratings the other sign. Beside it stands by how much each
word differs where both were the same setup. A plan closed early has its ratings, and no test.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from stats.flip_rate import flip_rate
from stats.holm import holm
from stats.sign_flips import two_sided_p

from ..plans.plan import Plan
from .answers import Answer, SessionAnswers
from .ballot_outcomes import RatedWord, WordRatings
from .outcome import ListenerResult
from .own_words import by_listener

Marks = dict[str, float]
Pair = tuple[Marks, Marks]
"""What each word got of the first and of the second of two."""


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> WordRatings:
    """What the planned test of a rated ballot found; `planned` trials of all these sessions together."""
    words = plan.ballot.words
    answered = sum(len(own.counted) for own in sessions)
    whole = answered >= planned
    counted = [_by_setup(plan, one) for own in sessions for one in own.counted]
    same = [_by_label(plan, one) for own in sessions for one in own.controls]
    apart = {word: _differences(word, counted) for word in words}
    p_values = [two_sided_p(apart[word], decimals=0) for word in words]
    corrected = holm(p_values) if whole else [None] * len(words)
    p_value = min((p for p in corrected if p is not None), default=None)
    return WordRatings(
        reached=None if p_value is None else p_value <= plan.alpha,
        complete=whole,
        p_value=p_value,
        trials=planned,
        answered=answered,
        listeners=tuple(ListenerResult(own.listener, own.planned, len(own.counted), None, None) for own in sessions),
        setups=(plan.setups[0].name, plan.setups[1].name),
        words=tuple(
            _word(word, counted, _differences(word, same), p if whole else None, p_holm)
            for word, p, p_holm in zip(words, p_values, corrected, strict=True)
        ),
        by_listener=by_listener(plan, sessions),
    )


def _word(
    word: str, counted: Sequence[Pair], same: Sequence[float], p_value: float | None, p_holm: float | None
) -> RatedWord:
    apart = _differences(word, counted)
    size = Fraction(sum(map(int, map(abs, apart))), len(apart))
    noise = Fraction(sum(map(int, map(abs, same))), len(same)) if same else None
    return RatedWord(
        word,
        sum(first[word] for first, _ in counted) / len(counted),
        sum(second[word] for _, second in counted) / len(counted),
        sum(step > 0 for step in apart),
        sum(step < 0 for step in apart),
        len(counted),
        p_value,
        p_holm,
        flip_rate(sum(step != 0 for step in same), len(same)) if same else None,
        None if noise is None else float(noise),
        noisy=noise is not None and noise > 0 and noise >= size,
    )


def _by_setup(plan: Plan, one: Answer) -> Pair:
    marks = {one.key[label]: own for label, own in plan.ballot.marks_of(one.answer).items()}
    return marks[0], marks[1]


def _by_label(plan: Plan, one: Answer) -> Pair:
    marks = plan.ballot.marks_of(one.answer)
    return marks["1"], marks["2"]


def _differences(word: str, pairs: Sequence[Pair]) -> list[float]:
    return [first[word] - second[word] for first, second in pairs]
