"""From which difference in level on two loudspeakers can be told apart, by frequency, with its sources. Pure.

About 0.5 dB where a difference is broad (Toole, "Science in the Service of Art", quoted second-hand); 1.0 dB at 100 Hz
and 1.5 dB below that (Fielder and Benjamin 1988, from a review). Between these, and up to 10 kHz, our own lines; above
it we found no number, so nothing is judged there.
"""

from __future__ import annotations

import numpy as np

from audio.curves.curve import Numbers

SOURCE = "Toole; Fielder and Benjamin 1988; both second-hand"
HZ, DB = (20.0, 50.0, 100.0, 200.0, 10_000.0), (1.5, 1.5, 1.0, 0.5, 0.5)
JUDGED_HZ = HZ[0], HZ[-1]


def threshold_db(hz: Numbers) -> Numbers:
    """The least difference that can be heard at each frequency, dB; infinite where nothing is known.

    >>> threshold_db(np.array([30.0, 100, 1000, 15000])).tolist()
    [1.5, 1.0, 0.5, inf]

    So a difference of 1.2 dB may be heard at 100 Hz, not at 30 Hz.
    """
    known = (hz >= JUDGED_HZ[0]) & (hz <= JUDGED_HZ[1])
    return np.where(known, np.interp(np.log(hz), np.log(HZ), DB), np.inf)
