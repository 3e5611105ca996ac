"""Where a word is said to lie, as one says it: more or less of a band, or of a kind of measurement in it. Pure."""

from __future__ import annotations

# where more or less of a kind of measurement is not how one says it; evenness is told by what a response strays
AS_SAID = {
    ("decay", "more"): "longer decay",
    ("decay", "less"): "shorter decay",
    ("evenness", "more"): "less even",
    ("evenness", "less"): "more even",
    ("channels", "more"): "channels unalike",
    ("channels", "less"): "channels cancel",
    ("channels", None): "channels unalike",
}


def said_where(low_hz: float, high_hz: float, says: str | None, kind: str = "") -> str:
    """A band with its side, short; `kind` is the measurement in which it shows, empty for a response.

    >>> said_where(60, 250, "more"), said_where(50, 16_000, None), said_where(20, 500, "less", "compression")
    ('more of 60 to 250 Hz', 'within 0.05 to 16 kHz', 'less compression, 20 to 500 Hz')
    """
    band = f"{low_hz / 1000:g} to {high_hz / 1000:g} kHz" if high_hz >= 2000 else f"{low_hz:g} to {high_hz:g} Hz"
    if not kind:
        return f"{says} of {band}" if says else f"within {band}"
    return f"{AS_SAID.get((kind, says), f'{says} {kind}' if says else kind)}, {band}"
