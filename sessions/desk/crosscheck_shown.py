"""Words and curves side by side at the desk, as `crosscheck` tells them.

Of ballots only those that are over are told, and of words in trials only what may be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..words import lexicon_rows
from . import figures_shown, two_setups
from .two_setups import Two

if TYPE_CHECKING:
    from ..results.crosscheck_of_two import CrosscheckOfTwo


@dataclass(frozen=True)
class Crosscheck:
    """The page: the words with their outcomes, what these rest on, and whether their curves can be drawn."""

    two: Two
    headings: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()
    lines: Sequence[str] = ()
    left_out: Sequence[str] = ()
    not_measured: str = ""
    no_cause: str = ""
    drawn: bool = False


def gather(casebook: Casebook, first: str, second: str) -> Crosscheck:
    """Two setups' words beside their curves.

    Raises
    ------
    CatalogueError, MeasureError
        If a setup is unknown, both are one, or their curves cannot be set side by side.
    """
    from ..results import crosscheck_in_words
    from ..results.crosscheck import NO_CAUSE

    two = two_setups.chosen(casebook, first, second)
    if not two.setups:
        return Crosscheck(two)
    found, left_out = _found(casebook, two.setups)
    headings, rows = crosscheck_in_words.rows(found.words)
    return Crosscheck(
        two,
        headings,
        rows,
        [*crosscheck_in_words.sentences(found.words), *(f"Not used: {run}." for run in found.aside)],
        left_out,
        "" if found.compared else f"{crosscheck_in_words.not_measured(found)}.",
        NO_CAUSE,
        found.compared is not None,
    )


def picture(casebook: Casebook, first: str, second: str, *, wide: bool = False) -> str:
    """The measured difference with each word over its band, as SVG text.

    Raises
    ------
    CatalogueError, MeasureError
        If not both were measured.
    """
    from ..measured.figures.responses import Difference
    from ..report import words_beside
    from ..results import crosscheck_in_words

    two = two_setups.chosen(casebook, first, second)
    found = _found(casebook, two.setups)[0] if two.setups else None
    if found is None or found.compared is None:
        raise CatalogueError(two_setups.NOTHING_TO_DRAW)
    marked = words_beside.marks(found.words, crosscheck_in_words.labels(found.words))
    return figures_shown.svg(Difference(found.compared, marked, crosscheck_in_words.EXPLAINED), wide=wide)


def _found(casebook: Casebook, setups: Sequence[Setup]) -> tuple[CrosscheckOfTwo, list[str]]:
    from ..results import words_of_two
    from ..results.crosscheck_of_two import crosscheck_of_two

    lexicon = lexicon_rows.in_force(casebook)
    ballots = words_of_two.of_ballots(casebook, setups, lexicon)
    words = ballots.words + words_of_two.said_of(casebook, setups, lexicon)
    left_out = [f"{one.plan}: {one.why}" for one in ballots.left_out]
    return crosscheck_of_two(casebook, setups, words, lexicon), left_out
