"""The prepared files of known differences: made from what is played of a setup, then read back like the rest."""

from __future__ import annotations

from dataclasses import dataclass

from audio import known_difference
from audio.known_difference import Difference

from ..casebook.store import Casebook
from ..errors import PlanError
from . import prepared_audio
from .match_files import measure_of
from .match_sheet import MatchSheet
from .prepared_audio import SealedFile


@dataclass(frozen=True)
class KnownFile:
    """A prepared file with a known difference, and how far its level is from what was wanted, in LU."""

    file: str
    sha256: str
    residual_lu: float


def prepared(
    casebook: Casebook, passage_id: str, passage: str, source: SealedFile, sheet: MatchSheet, difference: Difference
) -> KnownFile:
    """What is played of a passage (an identifier, and its name) with the difference, from a setup's own file.

    Raises
    ------
    PassageError
        If it would clip; the message says what would fit.
    MeasureError
        If it cannot be made of this file.
    PlanError
        If it is not as loud as the sheet's tolerance asks.
    """
    by = measure_of(sheet)
    played = prepared_audio.file_of(casebook, source.sha256, passage, named=source.file, sheet=None)
    made = prepared_audio.kept(
        casebook,
        lambda path: known_difference.write(passage, played, path, difference, by=by, seed=passage_id.encode()),
    )
    left = known_difference.left_db(played, casebook.prepared / made.file, difference, by)
    if left > sheet.tolerance_lu:
        raise PlanError(
            f"the known difference of passage {passage!r} is {left:.2f} LU off what was wanted, more than the "
            f"{sheet.tolerance_lu:g} LU allowed; choose another one"
        )
    return KnownFile(made.file, made.sha256, left)
