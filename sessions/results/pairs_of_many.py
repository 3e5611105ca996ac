"""The words of a ballot of more than two setups as its plan judged them, and each two setups, told afterwards. Pure.

The planned test says that not all setups got a word alike, and no more. Which two of them differ is computed here, by
the exact test of these two alone with Holm's correction over all pairs and words of the ballot: it is exploratory, and
changes no verdict. A word of which the plan shows nothing has no pair that differs, whatever its numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

from stats.holm import holm

from ..words.lexicon import Lexicon
from . import presented_words
from .ballot_outcomes import WordOfMany, WordsOfMany
from .plan_record import PlanRecord
from .pooled_words import Counted, counted_of, p_of
from .verdict import Verdict


@dataclass(frozen=True)
class PairOfMany:
    """Two of the setups, by name, in one word.

    Attributes
    ----------
    counts
        Trials in which it was ticked of the first of these alone, or rated higher of it; and of the second.
    p_value, p_holm
        Of the exact test of these two alone, and with Holm's correction over all pairs and words of the ballot.
    differ
        Whether that is at most the plan's alpha, in a word that its verdict holds heard.
    """

    setups: tuple[str, str]
    counts: Counted
    p_value: float
    p_holm: float
    differ: bool


@dataclass(frozen=True)
class WordOfSeveral:
    """A word by its headword: what the plan found of it, whether its verdict holds it heard, and each pair of setups.

    `by_ballot_alone`: enough by the ballot itself, and not together with the other plans, so that it does not hold.
    """

    word: str
    found: WordOfMany
    heard: bool
    pairs: tuple[PairOfMany, ...]
    by_ballot_alone: bool = False


@dataclass(frozen=True)
class BallotOfSeveral:
    """One such ballot that is over: its plan, setups, weeks and listeners, and each word."""

    plan: str
    setups: tuple[str, ...]
    rated: bool
    weeks: tuple[str, ...]
    listeners: tuple[str, ...]
    trials: int
    words: tuple[WordOfSeveral, ...]


def pairs_of_many(verdict: Verdict, record: PlanRecord, lexicon: Lexicon) -> BallotOfSeveral | None:
    """The words of such a ballot; None of any other plan, and of one that was not taken to its end."""
    found = verdict.outcome
    if not isinstance(found, WordsOfMany) or not found.complete:
        return None
    if verdict.rehearsal:  # each session of one is a repetition, and the newest is judged
        record = replace(record, sessions=record.sessions[-1:])
    names, trials = presented_words.headwords(verdict.plan, lexicon), presented_words.of_record(record, lexicon).counted
    ids = {setup.id: setup.name for setup in verdict.plan.setups}
    asked = [(one, pair) for one in found.words for pair in combinations(ids, 2)]
    p_values = [p_of(names[one.word], trials, pair, rated=found.rated) for one, pair in asked]
    by_word: dict[str, list[PairOfMany]] = {one.word: [] for one in found.words}
    for (one, pair), p_value, p_holm in zip(asked, p_values, holm(p_values), strict=True):
        by_word[one.word].append(
            PairOfMany(
                (ids[pair[0]], ids[pair[1]]),
                counted_of(names[one.word], trials, pair, rated=found.rated),
                p_value,
                p_holm,
                one.word in verdict.words_heard and p_holm <= verdict.plan.alpha,
            )
        )
    return BallotOfSeveral(
        verdict.plan.name,
        found.setups,
        found.rated,
        tuple(sorted({trial.week for trial in trials})),
        tuple(dict.fromkeys(trial.listener for trial in trials)),
        len(trials),
        tuple(
            WordOfSeveral(
                names[one.word],
                one,
                one.word in verdict.words_heard,
                tuple(by_word[one.word]),
                one.word in verdict.words_alone,
            )
            for one in found.words
        ),
    )
