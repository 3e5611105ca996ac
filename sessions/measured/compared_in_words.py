"""Two responses compared, in sentences: for the command line and the desk alike. Pure."""

from __future__ import annotations

from audio.curves import gaps

from . import curve_sentences
from .curve_comparison import CurveComparison


def lines(comparison: CurveComparison) -> list[str]:
    """Where two differ most, by how much, and what was measured differently; the first is a sentence of its own."""
    low, high = comparison.band_hz
    told = [f"At one level over {low:g} to {high:g} Hz: {curve_sentences.most(comparison)}."]
    if comparison.departure_db is not None:
        low, high = comparison.departure_hz
        lacks = tuple(gap for gap in comparison.difference.gaps_hz if gap[0] < high and gap[1] > low)
        without = f" ({gaps.in_words(lacks)})" if lacks else ""
        told.append(
            f"from {low:.0f} to {high:.0f} Hz they depart from a constant difference by at most "
            f"{comparison.departure_db:.1f} dB{without}"
        )
    told += [f"measured differently: {note}" for note in comparison.notes]
    told += [f"several on axis: {which}" for which in comparison.passed_over]
    if comparison.uncertainty_db is None:
        told.append("not both were repeated alike: how well it repeats is not known")
    else:
        told.append(f"repeated measurements: ± {comparison.uncertainty_db:.2f} dB (one standard deviation)")
    return told
