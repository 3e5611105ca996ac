"""What came of a soundtrack: votes for each trial, by the test's key. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stats import crowd
from stats.count_summary import HEARD, NOT_SHOWN
from stats.crowd import Pooled
from stats.shared_key import SharedKey, shared_key

from ..casebook import documents
from ..casebook.hash_chain import canonical
from ..errors import ViewersError
from ..plans import viewers_test
from ..plans.viewers_test import ViewersTest

Votes = Mapping[int, tuple[int, int]]
"""For each trial (from 1) how many voted for each answer: A and B, or 1 and 2."""


@dataclass(frozen=True)
class PollResult:
    """What a poll's votes come to.

    Attributes
    ----------
    each
        For each trial: its number, how many voted with the key (or for the first setup), and how many otherwise.
    as_if_independent
        The binomial test that would hold if nobody's vote had anything to do with anybody else's.
    """

    test: ViewersTest
    key: SharedKey
    verdict: str
    each: tuple[tuple[int, int, int], ...]
    as_if_independent: Pooled


def check(test: ViewersTest, votes: Votes) -> None:
    """Nothing, if the votes are of this test.

    Raises
    ------
    ViewersError
        If a trial is missing or none of it.
    """
    missing = sorted(set(range(1, test.trials + 1)) - set(votes))
    beyond = sorted(set(votes) - set(range(1, test.trials + 1)))
    if missing or beyond:
        which = f"no votes for trial {missing[0]}" if missing else f"votes for trial {beyond[0]}"
        raise ViewersError(
            f"{which}, and the soundtrack has {test.trials} trials; give the votes of all, 0 where nobody voted"
        )


def kept_text(votes: Votes) -> str:
    """The votes that count, as they are kept and hashed: of each trial its number and the votes for each answer."""
    return canonical([[trial, *votes[trial]] for trial in sorted(votes)])


def of_text(text: str) -> Votes:
    """The votes that were kept so."""
    return {trial: (first, second) for trial, first, second in documents.value_of(text)}


def result(test: ViewersTest, secret: bytes, votes: Votes) -> PollResult:
    """What a poll's votes come to.

    Raises
    ------
    ViewersError
        If they are none of this test.
    StatsError
        If nobody voted.
    """
    check(test, votes)
    two_sided = test.method != "abx"
    each = []
    for trial in range(1, test.trials + 1):
        coin = viewers_test.coin(test, secret, trial)
        each.append((trial, votes[trial][coin], votes[trial][1 - coin]))
    key = shared_key([(right, wrong) for _, right, wrong in each], two_sided=two_sided)
    return PollResult(
        test,
        key,
        HEARD if key.p_value <= test.alpha else NOT_SHOWN,
        tuple(each),
        crowd.pooled(key.right, key.votes, two_sided=two_sided),
    )
