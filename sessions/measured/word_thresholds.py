"""From which change of a band on it could be heard, by how wide the band is, with its sources. Pure.

About 0.5 dB where it is broad, some 3 dB at medium and 5 dB at high Q (Toole, "Science in the Service of Art", quoted
second-hand); never less than what can be heard of a level at those frequencies (`audible`). Narrow dips are missed
where equal peaks are heard (Bucklein, JAES 29(3) 1981, second-hand): of bands under an octave twice as much is asked of
a lack. That a band's width stands for a resonance's Q, and the steps between, are our own rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .audible import threshold_db

SOURCE = (
    "by width: 0.5 dB from two octaves on, 1 dB from one, 3 dB from a third, 5 dB below (after Toole, second-hand; "
    "the steps are our own); more in the bass (Fielder and Benjamin 1988, second-hand); twice for a lack in a band "
    "under an octave (after Bucklein 1981, second-hand)"
)
BY_OCTAVES = ((2.0, 0.5), (1.0, 1.0), (1 / 3, 3.0), (0.0, 5.0))
NARROW_OCTAVES = 1.0


@dataclass(frozen=True)
class AudibleFrom:
    """From which effect in a band on it is taken to be heard.

    Attributes
    ----------
    db
        The threshold; None where only an end of its interval is known.
    low_db, high_db
        Its interval: 0 and infinity where an end is open; both the threshold itself where nobody gives one.
    own
        Whether the listeners' own runs found it, rather than a publication.
    whose
        The listener whose runs found it; empty of a publication.
    """

    db: float | None
    low_db: float
    high_db: float
    source: str
    own: bool = False
    whose: str = ""


def published(low_hz: float, high_hz: float, *, lack: bool = False) -> AudibleFrom | None:
    """What publications state of a band (`word_threshold_db`); None where nobody does."""
    least = word_threshold_db(low_hz, high_hz, lack=lack)
    return None if least is None else AudibleFrom(least, least, least, SOURCE)


def word_threshold_db(low_hz: float, high_hz: float, *, lack: bool = False) -> float | None:
    """The least mean change of a band that is taken to be heard, dB; `lack`: of less in the band.

    None where the band's middle lies where no threshold is known (`audible`).

    >>> word_threshold_db(4000, 20_000), word_threshold_db(250, 500), word_threshold_db(600, 900, lack=True)
    (0.5, 1.0, 6.0)

    So of a band of half an octave 6 dB must be missing before a word for it counts as measured.
    """
    octaves = np.log2(high_hz / low_hz)
    width = next(db for least, db in BY_OCTAVES if octaves >= least - 1e-9)
    if lack and octaves < NARROW_OCTAVES - 1e-9:
        width *= 2
    at_its_middle = float(threshold_db(np.array([np.sqrt(low_hz * high_hz)]))[0])
    return max(width, at_its_middle) if np.isfinite(at_its_middle) else None
