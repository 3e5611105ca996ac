"""What the planned test of a ballot of words found: ticked, rated, or of more than two setups. Pure records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..casebook import documents
from .outcome import Outcome

if TYPE_CHECKING:  # a name of what is held
    from stats.flip_rate import FlipRate


@dataclass(frozen=True)
class OwnWords:
    """One listener's own part of a ballot: answered trials, and the numbers of each word in the plan's order.

    Of two setups: trials in which it was ticked of the first alone, or rated higher of it, and of the second. Of more:
    trials in which it was ticked of each, or its mean ratings.
    """

    listener: str
    trials: int
    words: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class BallotWord:
    """One word of a ballot.

    Attributes
    ----------
    first_only, second_only, both, trials
        Trials in which it was ticked of the plan's first setup alone, of the second alone, of both; and all of them.
    p_value, p_holm
        Of the exact test, alone and with Holm's correction over the words; None of a plan closed early.
    flips
        How often it was ticked of one alone where both were the same setup; None where no such trial was answered.
    noisy
        Whether that is as often as between the two setups.
    """

    word: str
    first_only: int
    second_only: int
    both: int
    trials: int
    p_value: float | None
    p_holm: float | None
    flips: FlipRate | None
    noisy: bool = False

    def separates(self, alpha: float) -> bool:
        """Whether it was said of one of the two more often, with Holm's correction."""
        return self.p_holm is not None and self.p_holm <= alpha


@dataclass(frozen=True, kw_only=True)
class WordBallots(Outcome):
    """Of a ballot of words: each word by itself, in the plan's order; of a plan closed early the ticks alone."""

    setups: tuple[str, str]
    words: tuple[BallotWord, ...]
    by_listener: tuple[OwnWords, ...] = ()

    def separating(self, alpha: float) -> list[BallotWord]:
        """The words that were said of one of the two more often."""
        return [one for one in self.words if one.separates(alpha)]

    def details(self) -> dict[str, Any]:
        """Each word's counts, test and flips."""
        return {"setups": list(self.setups), "words": documents.plain(self.words)} | _each(self.by_listener)


@dataclass(frozen=True)
class RatedWord:
    """One word of a ballot of ratings.

    Attributes
    ----------
    first_mean, second_mean
        Its mean rating of the plan's first setup, and of the second.
    first_higher, second_higher, trials
        Trials in which the first was rated higher, or the second; and all of them.
    p_value, p_holm
        Of the exact permutation test, alone and with Holm's correction over the words; None of a plan closed early.
    flips
        How often it was rated differently where both were the same setup; None where no such trial was answered.
    noise
        By how many steps it differed there on average, whichever way; None as above.
    noisy
        Whether that is as much as between the two setups.
    """

    word: str
    first_mean: float
    second_mean: float
    first_higher: int
    second_higher: int
    trials: int
    p_value: float | None
    p_holm: float | None
    flips: FlipRate | None
    noise: float | None
    noisy: bool = False

    def separates(self, alpha: float) -> bool:
        """Whether it was rated higher of one of the two, with Holm's correction."""
        return self.p_holm is not None and self.p_holm <= alpha


@dataclass(frozen=True, kw_only=True)
class WordRatings(Outcome):
    """Of a ballot of ratings: each word by itself, in the plan's order; of a plan closed early the ratings alone."""

    setups: tuple[str, str]
    words: tuple[RatedWord, ...]
    by_listener: tuple[OwnWords, ...] = ()

    def separating(self, alpha: float) -> list[RatedWord]:
        """The words that were rated higher of one of the two."""
        return [one for one in self.words if one.separates(alpha)]

    def details(self) -> dict[str, Any]:
        """Each word's means, test and flips."""
        return {"setups": list(self.setups), "words": documents.plain(self.words)} | _each(self.by_listener)


@dataclass(frozen=True)
class WordOfMany:
    """One word of a ballot of more than two setups.

    Attributes
    ----------
    means
        Of each setup, in the plan's order: the share of trials in which it was ticked, or its mean rating.
    trials
        All of them; each setup was heard in each.
    p_value, p_holm, p_draws
        Of the permutation test, alone and with Holm's correction over the words (None of a plan closed early); by how
        many draws, None where it is exact.
    q, q_p
        Cochran's Q of ticks and its chi-square's tail; None of ratings, and where no trial tells setups apart.
    flips
        How often it was not marked alike of all where all were the same setup; None where no such trial was answered.
    """

    word: str
    means: tuple[float, ...]
    trials: int
    p_value: float | None
    p_holm: float | None
    p_draws: int | None
    q: float | None
    q_p: float | None
    flips: FlipRate | None

    def separates(self, alpha: float) -> bool:
        """Whether not all setups got it alike, with Holm's correction."""
        return self.p_holm is not None and self.p_holm <= alpha


@dataclass(frozen=True, kw_only=True)
class WordsOfMany(Outcome):
    """Of a ballot of more than two setups: each word by itself, in the plan's order; closed early the marks alone.

    Its test says that not all setups got a word alike, and of none that it differs from any other one.
    """

    setups: tuple[str, ...]
    rated: bool
    words: tuple[WordOfMany, ...]
    by_listener: tuple[OwnWords, ...] = ()

    def separating(self, alpha: float) -> list[WordOfMany]:
        """The words that not all setups got alike."""
        return [one for one in self.words if one.separates(alpha)]

    def details(self) -> dict[str, Any]:
        """Each word's means, test and flips."""
        stated = {"setups": list(self.setups), "rated": self.rated, "words": documents.plain(self.words)}
        return stated | _each(self.by_listener)


def _each(listeners: tuple[OwnWords, ...]) -> dict[str, Any]:
    return {"by_listener": documents.plain(listeners)} if listeners else {}
