"""Where a sequential test stops: whole-number boundaries for every number of answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..count_summary import HEARD, NOT_SHOWN
from ..errors import StatsError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Boundaries:
    """The boundaries of a sequential test of at most N trials, each an array of shape (N,): place n−1 is for n answers.

    Attributes
    ----------
    heard_from
        Stop, heard, at this count or more; n + 1 where no count stops.
    heard_to
        Stop, heard for the other side, at this count or less; −1 where no count stops.
    quit_from, quit_to
        Stop, not shown, from this count to that one; an empty range where no count stops.
    """

    heard_from: NDArray[np.int64]
    heard_to: NDArray[np.int64]
    quit_from: NDArray[np.int64]
    quit_to: NDArray[np.int64]

    @property
    def trials(self) -> int:
        """The greatest number of trials."""
        return len(self.heard_from)

    @property
    def two_sided(self) -> bool:
        """Whether either side can be heard."""
        return bool((self.heard_to >= 0).any())

    def decision(self, answers: int, count: int) -> str | None:
        """``heard``, ``not shown``, or None while the test goes on.

        Raises
        ------
        StatsError
            If the count is not possible after so many answers.
        """
        if not 0 <= count <= answers <= self.trials:
            raise StatsError(f"{count} of {answers} answers is not possible in a test of at most {self.trials} trials")
        if answers == 0:
            return None
        place = answers - 1
        if count >= self.heard_from[place] or count <= self.heard_to[place]:
            return HEARD
        if answers == self.trials or self.quit_from[place] <= count <= self.quit_to[place]:
            return NOT_SHOWN
        return None

    def to_document(self) -> dict[str, list[int]]:
        """The boundaries as lists of whole numbers."""
        return {name: [int(value) for value in getattr(self, name)] for name in self.__dataclass_fields__}

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Boundaries:
        """The boundaries of such lists."""
        import numpy as np

        return cls(**{name: np.asarray(document[name], np.int64) for name in cls.__dataclass_fields__})

    @classmethod
    def from_lines(
        cls, heard_from: NDArray[np.int64], quit_to: NDArray[np.int64], *, two_sided: bool, to_the_end: bool = False
    ) -> Boundaries:
        """The boundaries of an upper line and a line of giving up, with hopeless ends cut short.

        Where even right answers in all trials left could not reach the upper line any more, the test stops: that
        changes neither its errors nor its power.

        Parameters
        ----------
        heard_from
            Stop, heard, at this count or more.
        quit_to
            One-sided: stop, not shown, at this count or less. Two-sided: when neither side has more than this count.
        to_the_end
            Go on where it is hopeless, too.
        """
        import numpy as np

        trials = len(heard_from)
        n = np.arange(1, trials + 1)
        heard_from = np.minimum(heard_from, n + 1)
        stop = np.minimum(np.maximum(quit_to, -1), heard_from - 1)
        if not to_the_end:
            lead = np.where(
                heard_from <= n, heard_from - n, 1
            )  # how far right answers may fall short of all; 1: no count
            ahead = np.minimum.accumulate(lead[::-1])[::-1]
            stop = np.minimum(np.maximum(stop, np.where(ahead >= 1, n, n + ahead - 1)), heard_from - 1)
        if two_sided:
            heard_to = np.where(heard_from <= n, n - heard_from, -1)
            return cls(heard_from, heard_to, np.maximum(n - stop, heard_to + 1), stop)
        return cls(heard_from, np.full(trials, -1), np.zeros(trials, np.int64), stop)
