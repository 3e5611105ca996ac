"""Which bands go with one reviewer's words over all units described: by units left out, all words tested at once. Pure.

A unit is one thing that was described and measured: its level in some bands (dB), and how often each word was used of
it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .errors import StatsError
from .estimates import PValue
from .leading_band import LeadingBand, leading_band
from .ridge import Numbers, left_out_errors, left_out_rows, solvers

LEAST_UNITS = 12  # see the notes of `words_learned`
DRAWS = 999
ALPHA = 0.05
MOST_AT_ONCE = 500_000  # numbers held at once, for memory's sake
ROUNDING = 1e-9


@dataclass(frozen=True)
class LearnedWord:
    """How far bands foretell one word.

    Attributes
    ----------
    score
        The share of its differences between units foretold, each unit by the others alone: 1 all, 0 no better than the
        mean of the others, below 0 worse.
    p
        How likely such a score of any of the words is where none has to do with the bands.
    weights
        By how much it is used more often of a unit with 1 dB more in a band, all others alike; shrunk towards 0. They
        mean nothing where the score does not hold, and name no band where bands lean on each other.
    leading
        The band it goes with most, each taken alone.
    """

    score: float
    p: PValue
    weights: tuple[float, ...]
    leading: LeadingBand


@dataclass(frozen=True)
class WordsLearned:
    """All words of a reviewer against the bands.

    Attributes
    ----------
    units
        How many it rests on.
    score
        The mean of the words' scores.
    p
        How likely a word that is foretold as well as the best of these is, where no word has to do with the bands.
    words
        In their order.
    """

    units: int
    score: float
    p: PValue
    words: tuple[LearnedWord, ...]

    def shown(self, alpha: float = ALPHA) -> bool:
        """Whether the bands foretell any of the words."""
        return any(self.holds(word, alpha) for word in range(len(self.words)))

    def holds(self, word: int, alpha: float = ALPHA) -> bool:
        """Whether a word goes with the bands: foretold so well seldom by chance, and better than by the mean.

        To ask for both can only be wrong less often than alpha.
        """
        own = self.words[word]
        return own.p.value <= alpha and own.score > 0


def words_learned(
    levels: Sequence[Sequence[float]],
    uses: Sequence[Sequence[float]],
    rng: np.random.Generator,
    draws: int = DRAWS,
) -> WordsLearned:
    """How far the bands foretell each word and all of them, with the p-values of that.

    Parameters
    ----------
    levels
        A row for each unit, a column for each band; dB.
    uses
        A row for each unit, a column for each word: how often it was used of that unit, as a share of what it could be.
    rng
        For the permutations.
    draws
        How many of them.

    Raises
    ------
    StatsError
        If there are fewer than `LEAST_UNITS` units, rows do not fit, something is not a number, a band is the same of
        all units or a word used alike of all, or there are no draws.

    Notes
    -----
    Ridge regression (`ridge`) about the means, bands scaled to a standard deviation of 1. Each unit is foretold by a
    fit to the others, whose κ is chosen among them alone; score = 1 − Σ(y − ŷ)²/Σ(y − ȳ)², ȳ the mean of the others.
    Units are permuted whole, with all their words, and every permutation goes through all of that, choosing included:
    a word's p is (b + 1)/(draws + 1), b permutations in which the least p-value among all words is as small (Westfall
    and Young, Resampling-Based Multiple Testing, 1993, single step; from memory). The whole's is that of the best word:
    a mean over all words would be thinned out by those that go with nothing.

    Assumed: units are things of their own, of which each could have been described as any other was. Two that share a
    loudspeaker are not; a p from such is too small.

    Why `LEAST_UNITS`: by `found_of_simulated`, of 1000 reviewers with seven bands and six words, one of them made by
    one band to nine tenths of its variance, 16 % are found out with 8 units, 31 % with 10, 73 % with 12 and 99 % with
    16; where it makes half of it, 7 % with 12, 18 % with 16 and 53 % with 24. Fewer than twelve would miss even what
    is nearly perfect.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> bands = rng.normal(0, 2, (16, 3))
    >>> words = np.column_stack([0.1 * bands[:, 1], np.zeros(16)]) + rng.normal(0, 0.05, (16, 2))
    >>> found = words_learned(bands, words, rng)
    >>> found.p.value < 0.01, found.holds(0), found.holds(1), round(found.words[0].weights[1], 1)
    (True, True, False, 0.1)

    So the first word goes with the second band: of each dB more, it is said in a tenth more of the tracks.
    """
    bands, words = _checked(levels, uses)
    if draws < 1:
        raise StatsError(f"the test needs at least one draw; got {draws!r}")
    units, count = words.shape
    scaled = (bands - bands.mean(axis=0)) / bands.std(axis=0)
    scores = _scores(scaled, words)[None]
    while len(scores) <= draws:
        now = min(draws + 1 - len(scores), max(1, MOST_AT_ONCE // (8 * units * count)))
        orders = rng.permuted(np.tile(np.arange(units), (now, 1)), axis=1)
        drawn = words[orders].transpose(1, 0, 2).reshape(units, now * count)
        scores = np.concatenate([scores, _scores(scaled, drawn).reshape(now, count)])
    as_high = np.column_stack([_as_high(own) for own in scores.T])
    least = as_high.min(axis=1)
    found = zip(scores[0], as_high[0], _weights(scaled, words) / bands.std(axis=0), words.T, strict=True)
    return WordsLearned(
        units,
        float(scores[0].mean()),
        PValue(float(np.mean(least <= least[0])), draws),
        tuple(
            LearnedWord(
                float(score),
                PValue(float(np.mean(least <= own)), draws),
                tuple(weights.tolist()),
                leading_band(bands, use),
            )
            for score, own, weights, use in found
        ),
    )


def found_of_simulated(
    levels: Sequence[Sequence[float]], words: int, share: float, rng: np.random.Generator, drawn: int = 1000
) -> float:
    """How many simulated reviewers would be found out, as a share: what so few units can show, by their own bands.

    Parameters
    ----------
    levels
        As for `words_learned`.
    words
        Among how many words the one is sought.
    share
        Of the variance of that word which one band, any of them, makes; the rest is normal noise.
    drawn
        How many reviewers; twenty for each word with no link set what is reached by chance.

    Notes
    -----
    Found is a score above 0 and above that which 5 % divided by the words (Bonferroni) of those without a link exceed:
    the others of the reviewer's words have no link here.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> round(found_of_simulated(rng.normal(0, 2, (40, 3)), 1, 0.7, rng), 1)
    1.0
    """
    bands = np.asarray(levels, float)
    scaled = (bands - bands.mean(axis=0)) / bands.std(axis=0)
    units = len(scaled)
    by_chance = _scores(scaled, rng.normal(size=(units, max(drawn, round(20 * words / ALPHA)))))
    least = np.quantile(by_chance, 1 - ALPHA / words)
    planted = scaled[:, rng.integers(scaled.shape[1], size=drawn)] * np.sqrt(share)
    planted += rng.normal(size=(units, drawn)) * np.sqrt(1 - share)
    return float(np.mean(_scores(scaled, planted) > max(float(least), 0.0)))


def _checked(levels: Sequence[Sequence[float]], uses: Sequence[Sequence[float]]) -> tuple[Numbers, Numbers]:
    if len(uses) < LEAST_UNITS:
        raise StatsError(
            f"this needs at least {LEAST_UNITS} units that were described and measured, since fewer foretell nothing; "
            f"there are {len(uses)}"
        )
    widths = [{len(row) for row in rows} for rows in (levels, uses)]
    if len(levels) != len(uses) or any(len(width) != 1 or not min(width) for width in widths):
        raise StatsError("every unit needs the same bands and the same words as all the others, at least one of each")
    bands, words = np.asarray(levels, float), np.asarray(uses, float)
    if not (np.isfinite(bands).all() and np.isfinite(words).all()):
        raise StatsError("every level and every use must be a number")
    for what, numbers in (("band", bands), ("word", words)):
        same = np.flatnonzero(np.ptp(numbers, axis=0) < ROUNDING)
        if len(same):
            raise StatsError(f"{what} {int(same[0]) + 1} is the same of all units; leave it out")
    return bands, words


def _scores(bands: Numbers, words: Numbers) -> Numbers:
    """The score of each column of `words`; shape (units, columns) in, (columns,) out."""
    units = len(words)
    missed = ((words - left_out_rows(bands, words)) ** 2).sum(axis=0)
    others = (words.sum(axis=0) - words) / (units - 1)
    return np.asarray(1 - missed / ((words - others) ** 2).sum(axis=0))


def _as_high(scores: Numbers) -> Numbers:
    """For each score, which share of all is as high."""
    rising = np.sort(scores)
    return np.asarray(1 - np.searchsorted(rising, scores - ROUNDING, side="left") / len(scores))


def _weights(scaled: Numbers, words: Numbers) -> Numbers:
    """The weights of each word, with κ chosen by all units; shape (words, bands)."""
    solved, about = solvers(scaled), words - words.mean(axis=0)
    chosen = np.argmin(left_out_errors(scaled, solved, about), axis=0)
    return np.array([solved[own] @ about[:, word] for word, own in enumerate(chosen)])
