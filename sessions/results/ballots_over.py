"""The ballots of words in a casebook that are over and hold, by the setups they compared; and those that are not.

Nothing of a plan that is not over is read here but its name.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

from stats.count_summary import HEARD, NOT_SHOWN

from ..casebook.store import Casebook
from ..plans import plan_rows
from ..words import lexicon_rows
from ..words.folding import folded
from ..words.lexicon import Lexicon
from . import presented_words, review
from .pairs_of_many import BallotOfSeveral, pairs_of_many
from .pooled_words import JudgedBallot, PooledBallots, pooled
from .presented_words import Presented
from .review import ReviewedPlan
from .verdict import CLOSED_EARLY, NOT_BEGUN, RUNNING, VOID, Verdict

NOT_OVER = "which is not over: nothing of it is told before its end"


@dataclass(frozen=True)
class LeftOut:
    """A ballot that is not among the others, and why."""

    plan: str
    why: str


@dataclass(frozen=True)
class AskedAs:
    """A word that a ballot asked for under another name than it is told by here."""

    plan: str
    asked: str
    word: str


@dataclass(frozen=True)
class BallotsOver:
    """The ballots of each two setups together, those of more setups each by itself, and those left out.

    `asked_as` has the words that the lexicon renamed or merged after they were asked for.
    """

    pairs: tuple[PooledBallots, ...]
    left_out: tuple[LeftOut, ...]
    several: tuple[BallotOfSeveral, ...] = ()
    asked_as: tuple[AskedAs, ...] = ()


def in_casebook(casebook: Casebook, setups: Set[str] = frozenset()) -> BallotsOver:
    """The ballots of a casebook, or those with all of these setups (by identifier) among theirs."""
    wanted = [
        one.plan.id
        for one in plan_rows.every_sealed(casebook)
        if one.plan.method.asks_words and setups <= {own.id for own in one.plan.setups}
    ]
    if not wanted:
        return BallotsOver((), ())  # nothing to judge, which takes as long as all plans together
    lexicon = lexicon_rows.in_force(casebook)
    judged, left_out, several, asked_as = [], [], list[BallotOfSeveral](), list[AskedAs]()
    for one in review.review(casebook).plans:
        if one.sealed.plan.id not in wanted:
            continue
        why = why_left_out(one.verdict)
        if why:
            left_out.append(LeftOut(one.sealed.plan.name, why))
            continue
        asked_as += _asked_as(one, lexicon)
        if of_several := pairs_of_many(one.verdict, one.record, lexicon):
            several.append(of_several)
        else:
            judged.append(_judged(one, lexicon))
    return BallotsOver(tuple(pooled(judged)), tuple(left_out), tuple(several), tuple(asked_as))


@dataclass(frozen=True)
class TicksOver:
    """What each presentation of the ballots of ticks got, over all setups; and the ballots that are left out."""

    presented: tuple[Presented, ...]
    left_out: tuple[LeftOut, ...]


def ticks(casebook: Casebook, lexicon: Lexicon) -> TicksOver:
    """The ticks of all ballots that are over and not void; of those closed early too: nothing is decided by them."""
    asked = [one.plan for one in plan_rows.every_sealed(casebook) if one.plan.method.asks_words]
    if not {plan.id for plan in asked} & (plan_rows.openings(casebook).keys() | plan_rows.given_up(casebook).keys()):
        return TicksOver((), tuple(LeftOut(plan.name, NOT_OVER) for plan in asked))  # to judge them takes long
    presented, left_out = list[Presented](), []
    for one in review.review(casebook).plans:
        if not one.sealed.plan.method.asks_words:
            continue
        if why := _no_ticks(one.verdict):
            left_out.append(LeftOut(one.sealed.plan.name, why))
        else:
            presented += presented_words.of_record(one.record, lexicon).counted
    return TicksOver(tuple(presented), tuple(left_out))


def _no_ticks(verdict: Verdict) -> str:
    """Why a ballot has no ticks to be learnt from; empty where it has."""
    if verdict.reason or verdict.state in (NOT_BEGUN, RUNNING) or verdict.verdict == VOID:
        return why_left_out(verdict)
    if verdict.plan.ballot.rating:
        return "whose words were rated: from which rating on one was meant nobody said"
    return ""


def why_left_out(verdict: Verdict) -> str:
    """Why a ballot is not told of among others; empty where it is."""
    if verdict.reason:
        return verdict.reason.rstrip(".")
    if verdict.state in (NOT_BEGUN, RUNNING):
        return NOT_OVER
    if verdict.verdict == VOID:
        return f"which is void: {verdict.void_reasons[0]}"
    if verdict.state == CLOSED_EARLY:
        return "which was closed early, so that it decides nothing"
    return "" if verdict.verdict in (HEARD, NOT_SHOWN) else "which came to no result"


def _asked_as(one: ReviewedPlan, lexicon: Lexicon) -> list[AskedAs]:
    names = presented_words.headwords(one.sealed.plan, lexicon)
    return [AskedAs(one.sealed.plan.name, own, word) for own, word in names.items() if folded(own) != folded(word)]


def _judged(one: ReviewedPlan, lexicon: Lexicon) -> JudgedBallot:
    trials = presented_words.of_record(one.record, lexicon)
    names = presented_words.headwords(one.sealed.plan, lexicon)
    heard, alone = (
        frozenset(names[word] for word in words) for words in (one.verdict.words_heard, one.verdict.words_alone)
    )
    return JudgedBallot(trials, heard, alone)
