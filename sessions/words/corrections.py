"""What is said of corrected words: how many, how many of those too late to have been said in their trial; and of words
that were taken back. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

OF_NO_TRIAL = ""
OUTSIDE = "outside of its trial"
AFTER_THE_END = "after the end of its plan"
TAKEN_BACK = "taken back"


@dataclass(frozen=True)
class CorrectedWords:
    """How many words were corrected, how many of them said in a trial, and of these after the end of its plan.

    And how many were taken back, which no other word stands for.
    """

    words: int = 0
    said_in_trials: int = 0
    after_end: int = 0
    taken_back: int = 0

    @classmethod
    def of(cls, corrections: Mapping[str, str]) -> CorrectedWords:
        """The counts of corrections, which are `OF_NO_TRIAL`, `OUTSIDE`, `AFTER_THE_END` or `TAKEN_BACK` each."""
        when = list(corrections.values())
        late, gone = when.count(AFTER_THE_END), when.count(TAKEN_BACK)
        return cls(len(when) - gone, late + when.count(OUTSIDE), late, gone)

    @property
    def in_words(self) -> str:
        """The same for people; empty where none was.

        Examples
        --------
        >>> CorrectedWords(3, 2, 1).in_words
        '3 words were corrected, 2 of them said in a trial, 1 of these after the end of its plan.'
        >>> CorrectedWords(1).in_words
        '1 word was corrected.'
        >>> CorrectedWords(0, taken_back=2).in_words
        '2 words were taken back.'
        """
        return " ".join(filter(None, [self._replaced, self._gone]))

    @property
    def _gone(self) -> str:
        if not self.taken_back:
            return ""
        return "1 word was taken back." if self.taken_back == 1 else f"{self.taken_back} words were taken back."

    @property
    def _replaced(self) -> str:
        if not self.words:
            return ""
        parts = ["1 word was corrected" if self.words == 1 else f"{self.words} words were corrected"]
        if self.said_in_trials:
            parts.append(f"{self.said_in_trials} of them said in a trial")
            parts.append(f"{self.after_end or 'none'} of these after the end of its plan")
        return f"{', '.join(parts)}."
