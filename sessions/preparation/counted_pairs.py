"""At which pair of setups of a passage a long check is, said as its work goes on. It does none of the work."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

from audio.parallel import Result, Submit, Thing

from .selection import Selection


def counted(submit: Submit, selection: Selection, at: str, progress: Callable[[str], None]) -> Submit:
    """What takes work as `submit` does and, when a result is asked for, says the pair it is of, each pair once.

    Parameters
    ----------
    submit
        What takes the pairs of one passage, in their order; whatever it takes after them is not said.
    at
        Which passage it is, in words.
    """
    waiting = [f"{one.name} and {other.name}" for one, other in combinations(selection.setups, 2)]
    pairs = len(waiting)

    def begin(work: Callable[[Thing], Result], thing: Thing, /) -> Callable[[], Result]:
        result = submit(work, thing)

        def taken() -> Result:
            if waiting:
                progress(f"{at}: pair {pairs - len(waiting) + 1} of {pairs}, {waiting.pop(0)} …")
            return result()

        return taken

    return begin
