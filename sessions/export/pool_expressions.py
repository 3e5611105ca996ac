"""The statistics of a pool as expressions over a table of judged trials: the same for every engine that Ibis speaks to.

It imports no engine: it gets a table (or an expression) and gives expressions. What they come to is a few rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..plans.methods.table import METHODS
from .judged_trials import COUNTS, PLANNED

COLUMNS = (
    "casebook",
    "plan_id",
    "method",
    "setups",
    "question",
    "session_id",
    "listener_id",
    "passage_id",
    "trial",
    "kind",
    "score",
    "chance",
    "void",
    "ended",
)
"""Columns of judged trials that a pool reads."""
ALWAYS = ("method", "setups")
PREFERENCES = tuple(name for name, method in METHODS.items() if method.asks_preference)
FURTHER = ("question", "passage_id", "listener_id", "casebook")
"""What a pool may be divided by besides."""


def of_one_question(trials: Any) -> Any:
    """The trials with two setups in the order of their names, so that plans which name them in either order are one.

    A preference counts choices of the first setup: where the two are turned round its score is too.
    """
    at, score = trials.setups.find("|"), trials.score
    first, second = trials.setups.substr(0, at), trials.setups.substr(at + 1)
    turned = (at >= 0) & (second.find("|") < 0) & (second < first)
    return trials.mutate(
        setups=turned.ifelse(second.concat("|", first), trials.setups),
        score=(turned & trials.method.isin(PREFERENCES)).ifelse(1 - score, score),
    )


def counted(trials: Any) -> Any:
    """The trials that are pooled: those that count, of plans that ended as planned and are not void by themselves."""
    return trials.filter(trials.kind == COUNTS, trials.score.notnull(), trials.void == 0, trials.ended == PLANNED)


def by_listener(trials: Any, by: Sequence[str]) -> Any:
    """Each listener's sums within each group."""
    own = counted(trials)
    return own.group_by([*dict.fromkeys([*by, "listener_id"])]).aggregate(
        right=own.score.sum(), answers=own.score.count(), chance=own.chance.max()
    )


def groups(trials: Any, by: Sequence[str]) -> Any:
    """The sums of each group, from which its statistics follow."""
    own = by_listener(trials, by)
    squared = own.right.cast("float64") * own.right.cast("float64") / own.answers.cast("float64")
    sums = own.group_by(list(by)).aggregate(
        right=own.right.sum(),
        answers=own.answers.sum(),
        listeners=own.listener_id.nunique(),
        squares=squared.sum(),
        chance=own.chance.max(),
    )
    return sums.order_by(list(by))


def totals(trials: Any) -> Any:
    """How much there is, and how much of it is pooled."""
    own = counted(trials)
    whole = trials.aggregate(answers=trials.count(), casebooks=trials.casebook.nunique())
    return whole.cross_join(own.aggregate(pooled=own.count()))


def by_reason(trials: Any) -> Any:
    """How many answers there are of each kind, from which follows why some are not pooled."""
    judged = trials.mutate(scored=trials.score.notnull())
    return judged.group_by(["void", "ended", "kind", "method", "scored"]).aggregate(answers=judged.count())


def once(trials: Any) -> Any:
    """The trials, each once that stands alike in several sources: of the first casebook, by identifier, that has it.

    A session's identifier is the same in every copy, export and merged casebook; what is told otherwise stays twice.
    """
    first = trials.group_by("session_id").aggregate(first=trials.casebook.min())
    joined = trials.drop("casebook").join(first, "session_id").rename(casebook="first")
    return joined.select(list(COLUMNS)).distinct()


def doubled(trials: Any) -> Any:
    """Sessions of which answers stand there several times."""
    each = trials.group_by("session_id").aggregate(
        answers=trials.count(),
        last=trials.trial.max(),
        first_source=trials.casebook.min(),
        last_source=trials.casebook.max(),
    )
    # a trial is answered once, so that no session has more answers than its last trial's number
    return each.filter((each.answers > each.last) | (each.first_source != each.last_source))
