"""What a mend is: how late a recording is, on which clock it ran, its polarity, what is filtered off. Plain facts.

Records of sealed plans hold mends; reading them loads no arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mend:
    """A repair.

    Attributes
    ----------
    delay_s
        How late this recording is; it is read that much later.
    invert
        Whether its polarity is turned round.
    stretch_ppm
        By how many parts per million its clock runs fast: it holds that many more frames a second than its
        rate says. It is read so that the music keeps the reference's time, pivoting on the passage's start.
    rate_hz
        The rate at which this recording was brought together with others, None where rates agree. It is kept for
        the record; what is cut comes at the rate that `read_mended` is asked for.
    high_pass_hz
        The corner of the high-pass (second order) that takes a DC offset away, None for none. It is given to all setups
        of a passage alike, so that what it does to the sound tells none of them.
    """

    delay_s: float = 0.0
    invert: bool = False
    stretch_ppm: float = 0.0
    rate_hz: int | None = None
    high_pass_hz: float | None = None

    def then(self, other: Mend) -> Mend:
        """The repair with another on top of it."""
        return Mend(
            delay_s=self.delay_s + other.delay_s,
            invert=self.invert != other.invert,
            stretch_ppm=self.stretch_ppm + other.stretch_ppm,
            rate_hz=other.rate_hz or self.rate_hz,
            high_pass_hz=max(filter(None, (self.high_pass_hz, other.high_pass_hz)), default=None),
        )
