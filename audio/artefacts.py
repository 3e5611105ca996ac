"""Named artefacts, made larger and smaller on purpose to learn how they sound: our own list, by terms of the trade.

Each is a change of a passage of one size. All but the drop of level are made as loud as the passage again
(`difference_steps`), and nothing is louder than the passage by more than what is lifted in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .clip import Clip
from .known_difference import Change, Lift, Step

LATE_MS = 5.0  # of a reflection: a surface some 1.7 m of way further; common practice, no source
NOISE_SEED = 20_000  # of the hiss: the same each time


@dataclass(frozen=True)
class Reflection:
    """A copy of all of it, `late_ms` later and `level_db` louder (below 0: quieter), added: a comb of notches."""

    reflected_db: float
    late_ms: float = LATE_MS

    level_db = 0.0

    def of(self, clip: Clip) -> Clip:
        """The clip with its reflection; what would come after its end is left out."""
        late = round(self.late_ms / 1000 * clip.rate_hz)
        made = clip.samples.copy()
        made[late:] += 10 ** (self.reflected_db / 20) * clip.samples[: clip.frames - late]
        return Clip(made, clip.rate_hz, clip.channel_mask)


@dataclass(frozen=True)
class LateChannel:
    """The right channel later by `late_ms`: what stood in the middle moves to the left.

    The delay may be a fraction of a frame; it is made in the spectrum, with silence at the end to turn into.
    """

    late_ms: float

    level_db = 0.0

    def of(self, clip: Clip) -> Clip:
        """The clip with its second channel delayed.

        Raises
        ------
        ValueError
            If it has one channel.
        """
        if clip.samples.shape[1] < 2:
            raise ValueError("it has one channel, and a delay between the channels needs two")
        spare = round(0.1 * clip.rate_hz)
        length = clip.frames + spare
        turn = np.exp(-2j * np.pi * np.fft.rfftfreq(length, 1 / clip.rate_hz) * self.late_ms / 1000)
        made = clip.samples.copy()
        made[:, 1] = np.fft.irfft(np.fft.rfft(clip.samples[:, 1], length) * turn, length)[: clip.frames]
        return Clip(made, clip.rate_hz, clip.channel_mask)


@dataclass(frozen=True)
class Hiss:
    """White noise added, the same in each run, `hiss_db` re the power of the passage."""

    hiss_db: float

    level_db = 0.0

    def of(self, clip: Clip) -> Clip:
        """The clip with its hiss."""
        rng = np.random.Generator(np.random.PCG64(NOISE_SEED))
        power = float(np.mean(np.square(clip.samples)))
        noise = rng.standard_normal(clip.samples.shape) * np.sqrt(power) * 10 ** (self.hiss_db / 20)
        return Clip(clip.samples + noise, clip.rate_hz, clip.channel_mask)


@dataclass(frozen=True)
class Artefact:
    """One kind of change.

    Attributes
    ----------
    key
        By which it is named on the command line and kept.
    said
        What it is called.
    sizes, unit
        What can be played, from the hardest to notice; steps are about the square root of two, our choice.
    start
        The place among them of the first one, which is plain.
    make
        The change of one size.
    of_band
        Whether it changes a band, of which the passage may hold too little.
    """

    key: str
    said: str
    sizes: tuple[float, ...]
    unit: str
    start: int
    make: Callable[[float], Change]
    of_band: bool = False

    def in_words(self, size: float) -> str:
        """A size in words."""
        return f"{size:g} {self.unit}"


LIFTS_DB = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0, 9.0, 12.0)
DROPS_DB = (0.25, 0.35, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0)
REFLECTED_DB = (-36.0, -33.0, -30.0, -27.0, -24.0, -21.0, -18.0, -15.0, -12.0, -9.0, -6.0)
HISS_DB = (-66.0, -62.0, -58.0, -54.0, -50.0, -46.0, -42.0, -38.0, -34.0, -30.0)
LATE_SIZES_MS = (0.02, 0.03, 0.045, 0.07, 0.1, 0.15, 0.2, 0.3, 0.45, 0.7)
AT_LIFT, AT_DROP, AT_REFLECTED, AT_HISS, AT_LATE = 7, 8, 9, 8, 8

BANDS = {
    63: "deep bass",
    125: "bass",
    250: "upper bass, the warmth",
    500: "lower midrange",
    1000: "midrange",
    2000: "upper midrange",
    4000: "presence",
    8000: "treble, the sibilants",
}
"""Octaves by their centres, in Hz, and what they are called; common practice, no source."""


def _octave(centre_hz: int, name: str, sign: int) -> Artefact:
    at = f"{centre_hz / 1000:g} kHz" if centre_hz >= 1000 else f"{centre_hz} Hz"
    return Artefact(
        f"{'lift' if sign > 0 else 'cut'}-{centre_hz}",
        f"{'more' if sign > 0 else 'less'} {name} (octave around {at})",
        LIFTS_DB,
        "dB",
        AT_LIFT,
        lambda size: Lift(centre_hz, sign * size),
        of_band=True,
    )


ARTEFACTS: tuple[Artefact, ...] = (
    *(_octave(centre_hz, name, 1) for centre_hz, name in BANDS.items()),
    *(_octave(centre_hz, name, -1) for centre_hz, name in BANDS.items()),
    Artefact("level", "a drop of level (all of it quieter)", DROPS_DB, "dB", AT_DROP, lambda size: Step(-size)),
    Artefact(
        "delay", "a delay between the channels (the image moves)", LATE_SIZES_MS, "ms", AT_LATE, LateChannel
    ),
    Artefact(
        "reflection", f"a reflection ({LATE_MS:g} ms later, a comb of notches)", REFLECTED_DB, "dB", AT_REFLECTED,
        Reflection,
    ),
    Artefact("hiss", "hiss (white noise under the music)", HISS_DB, "dB", AT_HISS, Hiss),
)  # fmt: skip


def named(key: str) -> Artefact | None:
    """The artefact of that key; None where there is none."""
    return next((one for one in ARTEFACTS if one.key == key), None)
