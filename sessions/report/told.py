"""A verdict in words, as a report lays them out: two lines first, then numbers, then what stands beside. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..results import review, sentences, terms
from ..results.first_lines import first_lines
from ..results.supplementary_sentences import Block, blocks
from ..results.verdict import Verdict, unjudged


@dataclass(frozen=True)
class Told:
    """A verdict in words: the two lines that are read first, the numbers, and what stands beside it by its titles."""

    first: tuple[str, str]
    numbers: Sequence[str]
    beside: Sequence[Block]

    def with_more(self, *lines: str) -> Told:
        """The same with more lines after the numbers."""
        return replace(self, numbers=[*self.numbers, *lines])

    @property
    def terms(self) -> list[str]:
        """What the terms among the numbers mean; of what stands beside each block explains its own."""
        return terms.explained(self.numbers)


def of(judged: Verdict) -> Told:
    """A verdict in words; where it cannot be put into any, why."""
    return review.by_itself(
        lambda: _in_words(judged),
        lambda reason: _in_words(unjudged(judged.plan, reason, rehearsal=judged.rehearsal)),
    )


def _in_words(one: Verdict) -> Told:
    return Told(first_lines(one), sentences.numbers(one), blocks(one))
