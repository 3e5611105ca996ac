"""What is said of corrected words: how many, and how many of those too late to have been said in their trial. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

OF_NO_TRIAL = ""
OUTSIDE = "outside of its trial"
AFTER_THE_END = "after the end of its plan"


@dataclass(frozen=True)
class CorrectedWords:
    """How many words were corrected, how many of them said in a trial, and of these after the end of its plan."""

    words: int = 0
    said_in_trials: int = 0
    after_end: int = 0

    @classmethod
    def of(cls, corrections: Mapping[str, str]) -> CorrectedWords:
        """The counts of corrections, which are `OF_NO_TRIAL`, `OUTSIDE` or `AFTER_THE_END` each."""
        when = list(corrections.values())
        late = when.count(AFTER_THE_END)
        return cls(len(when), late + when.count(OUTSIDE), late)

    @property
    def in_words(self) -> str:
        """The same for people; empty where none was.

        Examples
        --------
        >>> CorrectedWords(3, 2, 1).in_words
        '3 words were corrected, 2 of them said in a trial, 1 of these after the end of its plan.'
        >>> CorrectedWords(1).in_words
        '1 word was corrected.'
        """
        if not self.words:
            return ""
        parts = ["1 word was corrected" if self.words == 1 else f"{self.words} words were corrected"]
        if self.said_in_trials:
            parts.append(f"{self.said_in_trials} of them said in a trial")
            parts.append(f"{self.after_end or 'none'} of these after the end of its plan")
        return f"{', '.join(parts)}."
