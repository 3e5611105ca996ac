"""Where each two of several units differ most on axis, judged by what can be heard: in sentences, and in cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured.curve_comparison import CurveComparison, compare_setups
from ..measured.curve_sentences import most

MOST_TOLD = 3  # pairs that are read aloud, a sentence each; the table tells all
LINE = "on axis, beside the others"


@dataclass(frozen=True)
class Pair:
    """Two units that were both measured on axis; None where their curves cannot be set against each other."""

    names: tuple[str, str]
    comparison: CurveComparison | None


def gather(casebook: Casebook, setups: Sequence[Setup]) -> list[Pair]:
    """Each two of the setups that have a curve on axis, in the order of the setups."""
    found = []
    for one, other in combinations(setups, 2):
        try:
            comparison = compare_setups(casebook, one, other)
        except MeasureError:
            found.append(Pair((one.name, other.name), None))
            continue
        if comparison is not None:
            found.append(Pair((one.name, other.name), comparison))
    return found


def sentences(pairs: Sequence[Pair]) -> list[str]:
    """What the first pairs come to, and where the rest of them is told."""
    told = []
    for one in [pair.comparison for pair in pairs if pair.comparison is not None][:MOST_TOLD]:
        low, high = one.band_hz
        told.append(f"Measured on axis, at one level over {low:g} to {high:g} Hz: {most(one)}.")
    if len(pairs) > len(told):
        told.append(f"Told so: {len(told)} of {len(pairs)} pairs; all stand in the table below, in the line {LINE}.")
    return told


def cell(name: str, pairs: Sequence[Pair]) -> str:
    """What a unit gives beside each of the others, where that can be heard best."""
    told = []
    for pair in pairs:
        if name in pair.names:
            first, second = pair.names
            side = 1 if name == first else -1
            told.append(f"{second if name == first else first}: {_easiest(pair.comparison, side)}")
    return "; ".join(told)


def _easiest(comparison: CurveComparison | None, side: int) -> str:
    """Where the difference is easiest to hear, as it is for the first (1) or the second (-1) of the two."""
    if comparison is None:
        return "cannot be compared"
    if not comparison.judged_hz:
        return "not judged, since no threshold is known there"
    if comparison.audible is None:
        return "nowhere by as much as can be heard"
    hz, db, _ = comparison.audible
    unsure = comparison.uncertainty_db is not None and abs(db) <= comparison.uncertainty_db
    return f"{abs(db):.1f} dB {'more' if side * db > 0 else 'less'} at {hz:.0f} Hz" + (
        ", within the uncertainty" if unsure else ""
    )
