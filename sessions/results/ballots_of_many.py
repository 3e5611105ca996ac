"""The planned test of a ballot of more than two setups: whether all got a word alike; Holm-corrected. Pure.

Which setup was heard as which was drawn anew in every trial, so that in each the setups' labels can be exchanged,
for ticks and for ratings; whatever listener and track did to a word, they did to all setups alike. A plan closed early
has its marks, and no test.
"""

from __future__ import annotations

from collections.abc import Sequence

from numpy.random import PCG64, Generator

from stats.cochran_q import cochran_q
from stats.flip_rate import flip_rate
from stats.holm import holm
from stats.permuted_labels import LabelTest, permutation_test

from ..plans.plan import Plan
from .answers import SessionAnswers
from .ballot_outcomes import WordOfMany, WordsOfMany
from .outcome import ListenerResult
from .own_words import Marked, by_listener, marked_by_setup


def analyse(plan: Plan, sessions: Sequence[SessionAnswers], planned: int) -> WordsOfMany:
    """What the planned test of such a ballot found; `planned` trials of all these sessions together."""
    words, rated = plan.ballot.words, bool(plan.ballot.rating)
    counted = [marked_by_setup(plan, one) for own in sessions for one in own.counted]
    same = [list(plan.ballot.marks_of(one.answer).values()) for own in sessions for one in own.controls]
    answered, whole = len(counted), len(counted) >= planned
    tests = [_tested(word, counted, plan.seed + place) for place, word in enumerate(words)]
    corrected = holm([test.p.value for test in tests]) if whole else [None] * len(words)
    p_value = min((p for p in corrected if p is not None), default=None)
    return WordsOfMany(
        reached=None if p_value is None else p_value <= plan.alpha,
        complete=whole,
        p_value=p_value,
        trials=planned,
        answered=answered,
        listeners=tuple(ListenerResult(own.listener, own.planned, len(own.counted), None, None) for own in sessions),
        setups=tuple(setup.name for setup in plan.setups),
        rated=rated,
        words=tuple(
            _word(word, test, p_holm, answered, _cochran(word, counted if whole and not rated else ()), same)
            for word, test, p_holm in zip(words, tests, corrected, strict=True)
        ),
        by_listener=by_listener(plan, sessions),
    )


def _word(
    word: str,
    test: LabelTest,
    p_holm: float | None,
    answered: int,
    q: tuple[float, float] | None,
    same: Sequence[Marked],
) -> WordOfMany:
    tested = p_holm is not None
    return WordOfMany(
        word,
        test.means,
        answered,
        test.p.value if tested else None,
        p_holm,
        test.p.draws if tested else None,
        q and q[0],
        q and q[1],
        flip_rate(sum(len({own[word] for own in marks}) > 1 for marks in same), len(same)) if same else None,
    )


def _tested(word: str, counted: Sequence[Marked], seed: int) -> LabelTest:
    return permutation_test([[[own[word]] for own in marks] for marks in counted], Generator(PCG64(seed)))


def _cochran(word: str, counted: Sequence[Marked]) -> tuple[float, float] | None:
    ticks = [[int(own[word]) for own in marks] for marks in counted]
    if all(len(set(row)) == 1 for row in ticks):
        return None
    found = cochran_q(ticks, Generator(PCG64(0)), draws=1)  # its permutation is the test above
    return found.q, found.p_value
