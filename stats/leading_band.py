"""Which of several bands a word goes with most, each band taken alone, and which of the others go along with it. Pure.

What bands together foretell is another question (`words_learned`). Their joint weights name no band: where two lean on
each other one of them gets what is left over of the other, and of a band that hardly differs a dB weighs most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

UNCERTAIN_DB = 0.3  # how far a level may be off from one measurement to the next; our choice
TOGETHER = 0.8  # of a correlation: then either band tells two thirds of the other's differences; our choice


@dataclass(frozen=True)
class LeadingBand:
    """The band a word goes with most.

    Attributes
    ----------
    place
        Among the bands.
    correlation
        Of the word's use with the level there, over the units.
    per_db
        By how much it is used more often of units with 1 dB more there, whatever else these have more of.
    together
        The other bands that cannot be told from it, since they go together with it over these units, by their places;
        and by `opposite` which of these go the other way.
    """

    place: int
    correlation: float
    per_db: float
    together: tuple[int, ...] = ()
    opposite: tuple[int, ...] = ()


def leading_band(levels: NDArray[np.float64], use: NDArray[np.float64]) -> LeadingBand:
    """The band whose level goes most with the use of one word.

    Parameters
    ----------
    levels
        A row for each unit, a column for each band; dB; no band the same of all units.
    use
        How often the word was used of each unit, as a share; not the same of all.

    Notes
    -----
    The most is the greatest |cov(x, y)|/√((var x + u²) var y): the correlation as it would be with levels that are off
    by u = `UNCERTAIN_DB` more. So of bands that go wholly together the one that differs most leads, and what is left in
    a band by the choice of a reference never does.

    Examples
    --------
    >>> levels = np.array([[-3, -0.06, 1.0], [-3, -0.06, -1.0], [3, 0.06, 1.0], [3, 0.06, -1.0]])
    >>> found = leading_band(levels, np.array([0.0, 0.0, 1.0, 1.0]))
    >>> found.place, round(found.correlation, 2), round(found.per_db, 2), found.together
    (0, 1.0, 0.17, (1,))

    So it goes with the first band, in a sixth more of the tracks for each dB; the second says the same of these units.
    """
    about, used = levels - levels.mean(axis=0), use - use.mean()
    shared, spread = used @ about / len(use), about.std(axis=0)
    place = int(np.argmax(np.abs(shared) / np.hypot(spread, UNCERTAIN_DB)))
    alike = about[:, place] @ about / (len(use) * spread * spread[place])
    together = [int(n) for n in np.flatnonzero(np.abs(alike) >= TOGETHER) if n != place]
    return LeadingBand(
        place,
        float(shared[place] / (spread[place] * used.std())),
        float(shared[place] / spread[place] ** 2),
        tuple(together),
        tuple(n for n in together if alike[n] < 0),
    )
