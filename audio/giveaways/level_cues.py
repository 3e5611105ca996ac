"""Cues of level and channel: overall loudness, balance of the channels, exchanged or missing channels. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..clip import Clip
from ..levels.weighting import By, level_db
from . import evening
from .findings import LIMITS, Finding, finding
from .gain_course import Moments
from .merged import as_balanced, merged
from .width import width_db, with_width
from .wiring import Wiring
from .wiring import wiring as wiring_at

BALANCE_HZ = (200.0, 8000.0)
BANDS_PER_OCTAVE = 3
HEARD_DB = 40.0  # bands this far below the strongest say little of a channel's level
SILENT_DB = -120.0
OF_NORMAL = 1.4826  # times the median distance from the median: the scatter of normal values
ERROR_OF_MEDIAN = 1.2533  # times that of the mean, of normal values: the root of half of pi
SURE = 2.5  # standard errors
WINDOW_FRAMES = 1 << 13
ABOUT_S = 0.005  # they are in step but for an offset below its limit


@dataclass(frozen=True)
class Balance:
    """How much louder each channel of a recording is than the reference's, and how sure that is.

    Attributes
    ----------
    change_db
        Of each channel, in dB: the median over third-octave bands in which both sound, so that a response common to all
        channels, however uneven, moves every channel alike and not the one that has more bass.
    error_db
        How far the loudest and the faintest channel may seem apart by the bands' scatter alone: in rooms of each
        channel's own they differ at random.
    evened_db
        How much of that a room's tail may have made, which evens channels.
    uneven_db
        How much it could make at most.
    """

    change_db: tuple[float, ...]
    error_db: float
    evened_db: float = 0.0
    uneven_db: float = 0.0

    @property
    def apart_db(self) -> float:
        """How far the channels lie apart."""
        return max(self.change_db) - min(self.change_db)

    @property
    def told_db(self) -> float:
        """How far they lie apart by no room's doing."""
        return self.apart_db - self.evened_db

    @property
    def is_beyond(self) -> bool:
        """Whether they are surely further apart than the limit."""
        return self.told_db - self.error_db > LIMITS["channel-level"].value

    @property
    def is_judged(self) -> bool:
        """Whether the bands bear out on which side of the limit they are."""
        return self.is_beyond or self.apart_db + self.error_db <= LIMITS["channel-level"].value

    @property
    def hides_db(self) -> float:
        """Below which no difference would be found."""
        return LIMITS["channel-level"].value + self.error_db + self.uneven_db


def levels(
    passage: str,
    setup: str,
    reference: Clip,
    other: Clip,
    wiring: Wiring | None,
    by: By = "bs1770",
    wider_db: float = 0.0,
    spectra: tuple[Moments, Moments] | None = None,
) -> list[Finding]:
    """What gives the other away by level or channel, of clips brought into step that have the same channels.

    Where the channels themselves differ, neither loudness nor balance is compared: they follow from that. `wider_db` is
    by how much the other is found to be wider; what follows of that in the balance is none of the balance. `spectra`
    are those of the two without their drift.
    """
    wrong = _swapped(passage, setup, reference, other, wiring)
    if not wrong and not (wiring is not None and wiring.turned):
        wrong = merged(passage, setup, reference, other, spectra)
    return wrong or overall(passage, setup, reference, other, by) + _balance(
        passage, setup, reference, other, wider_db, order_judged=wiring is None or wiring.order_judged
    )


def missing(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    """Another number of channels, or a silent one; the clips then say little of anything else."""
    if reference.channels != other.channels:
        what = f"{setup} has {other.channels} channels, the reference {reference.channels}; bring like recordings"
        return [finding("channels-count", setup, passage, other.channels - reference.channels, what)]
    mine, theirs = _rms_db(reference), _rms_db(other)
    found = []
    for place in range(reference.channels):
        lost = (mine[place] - mine.max()) - (theirs[place] - theirs.max())
        if abs(lost) > LIMITS["channels-missing"].value:
            word = "lacks" if lost > 0 else "has, unlike the reference,"
            what = f"{setup} {word} channel {place + 1} ({abs(lost):.0f} dB)"
            found.append(finding("channels-missing", setup, passage, abs(lost), what))
    return found


def overall(passage: str, setup: str, reference: Clip, other: Clip, by: By) -> list[Finding]:
    """Another loudness than the reference's, in the measure by which levels were matched."""
    mine, theirs = level_db(reference, by), level_db(other, by)
    if mine is None or theirs is None:
        return []
    apart = theirs - mine
    if abs(apart) <= LIMITS["level"].value:
        return []
    word = "louder" if apart > 0 else "quieter"
    what = f"{setup} is {abs(apart):.2f} LU {word} than the reference; match the levels"
    return [finding("level", setup, passage, apart, what)]


def balance(reference: Clip, other: Clip) -> Balance | None:
    """The balance of the other against the reference; None of one channel, and where one is silent."""
    mine_db, theirs_db = _levels(reference, other)
    bands = theirs_db - mine_db
    change = _balanced(bands)
    if change.size < 2 or np.isnan(change).any():
        return None
    found = Balance(tuple(float(value) for value in change), _error(bands, change))
    even = found.apart_db + found.error_db <= LIMITS["channel-level"].value
    ways = () if even else evening.ways(reference, other)
    if not ways:
        return found
    louder, fainter = int(np.argmax(change)), int(np.argmin(change))
    told = min(_apart(evening.beyond_evening(mine_db, theirs_db, way), louder, fainter) for way in ways)
    drier = [mine_db if way else theirs_db for way in ways]
    uneven_db = max(evening.unevenness_db(each, louder, fainter) for each in drier)
    return replace(found, evened_db=found.apart_db - min(max(told, 0.0), found.apart_db), uneven_db=uneven_db)


def _apart(bands: NDArray[np.float64], louder: int, fainter: int) -> float:
    return float(np.median(bands[:, louder] - bands[:, fainter]))


def _error(bands: NDArray[np.float64], change: NDArray[np.float64]) -> float:
    """How far the loudest and the faintest channel may seem apart by the bands' scatter alone, in dB.

    Of some fifteen bands the median distance may be half of what they scatter by, and the bands of few tones scatter
    wider than normal values: the standard deviation counts where it is more.
    """
    apart = bands[:, np.argmax(change)] - bands[:, np.argmin(change)]
    middling = OF_NORMAL * float(np.median(np.abs(apart - np.median(apart))))
    scatter = max(middling, float(apart.std(ddof=1))) if apart.size > 1 else middling
    return SURE * ERROR_OF_MEDIAN * scatter / float(np.sqrt(apart.size))


def _levels(reference: Clip, other: Clip) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The levels of both recordings' channels in each band in which all sound, in dB; (bands, channels)."""
    mine, theirs = _bands(reference), _bands(other)
    floor = 10 ** (-HEARD_DB / 10)
    heard = (mine > floor * mine.max(axis=0)) & (theirs > floor * theirs.max(axis=0))
    heard &= (mine > 10 ** (SILENT_DB / 10)) & (theirs > 10 ** (SILENT_DB / 10))
    common = heard.all(axis=1)
    return 10 * np.log10(mine[common]), 10 * np.log10(theirs[common])


def _balanced(change: NDArray[np.float64]) -> NDArray[np.float64]:
    if not len(change):
        return np.full(change.shape[1], np.nan)
    centre = np.median(change - change.mean(axis=1, keepdims=True), axis=0)
    return np.asarray(centre + np.median(change.mean(axis=1)))


def exchanged(reference: Clip, other: Clip, wiring: Wiring) -> bool:
    """Whether the other's channels lie in another order than the reference's, of clips in step and wired so."""
    if wiring.better <= LIMITS["channels-swapped"].value:
        return False
    even = wiring_at(reference, as_balanced(other, reference), reach_s=ABOUT_S)
    return even is not None and even.better > LIMITS["channels-swapped"].value  # else one channel is only too faint


def balance_beside_width(reference: Clip, other: Clip, wider_db: float) -> Balance | None:
    """The balance of two recordings of which the other is wider by so much; the same whichever of them is named first.

    What is out of balance turns by another amount when it is made wider or narrower. Whether the one or the other was
    made so before it lost its balance is told by the bands: taken off the right one they agree better.
    """
    if not wider_db:
        return balance(reference, other)
    tried = [
        each
        for each in (
            balance(reference, with_width(other, -wider_db)),
            balance(with_width(reference, wider_db), other),
        )
        if each is not None
    ]
    return min(tried, key=lambda each: each.error_db, default=None)


def balance_as_found(reference: Clip, other: Clip, spectra: tuple[Moments, Moments] | None) -> Balance | None:
    """The balance as the check for giveaways finds it, beside whatever width it finds; of clips in step."""
    wider_db = None if spectra is None else width_db(*spectra)
    is_wider = wider_db is not None and abs(wider_db) > LIMITS["width"].value
    return balance_beside_width(reference, other, wider_db if is_wider and wider_db else 0.0)


def _balance(
    passage: str, setup: str, reference: Clip, other: Clip, wider_db: float, *, order_judged: bool
) -> list[Finding]:
    """Another balance, if the bands bear it out; where the channels' order is not known, what else it may be."""
    found = balance_beside_width(reference, other, wider_db)
    if found is None or not found.is_beyond:
        return []
    least = "at least " if found.evened_db else ""
    weaker, stronger = (int(pick(found.change_db)) + 1 for pick in (np.argmin, np.argmax))
    what = (
        f"the balance of {setup}'s channels differs from the reference's by {least}{found.told_db:.2f} dB: in {setup} "
        f"channel {weaker} is so much weaker against channel {stronger} than in the reference"
    )
    if not order_judged:
        what += "; or its channels are exchanged, which could not be judged here: look at the leads"
    return [finding("channel-level", setup, passage, found.told_db, what)]


def _swapped(passage: str, setup: str, reference: Clip, other: Clip, wiring: Wiring | None) -> list[Finding]:
    if wiring is None or not exchanged(reference, other, wiring):
        return []
    order = ", ".join(str(place + 1) for place in wiring.order)
    pair = reference.channels == 2
    how = f"left and right of {setup} are exchanged" if pair else f"{setup} has the channels in the order {order}"
    what = (
        f"{how} against the reference (that fits better by {wiring.better:.2f}); which of them is right cannot be told "
        "from the recordings: find out before you swap leads or record again"
    )
    return [finding("channels-swapped", setup, passage, wiring.better, what)]


def _rms_db(clip: Clip) -> NDArray[np.float64]:
    return np.asarray(10 * np.log10(np.maximum(np.mean(np.square(clip.samples), axis=0), 10 ** (SILENT_DB / 10))))


def _bands(clip: Clip) -> NDArray[np.float64]:
    """The mean square in each band of each channel; shape (bands, channels)."""
    highest = min(BALANCE_HZ[1], 0.45 * clip.rate_hz)
    bands = int(np.floor(BANDS_PER_OCTAVE * np.log2(highest / BALANCE_HZ[0])))
    edges = BALANCE_HZ[0] * 2 ** (np.arange(bands + 1) / BANDS_PER_OCTAVE)
    count = clip.frames // WINDOW_FRAMES + 1
    samples = np.pad(clip.samples, ((0, count * WINDOW_FRAMES - clip.frames), (0, 0)))
    blocks = samples.reshape(count, WINDOW_FRAMES, clip.channels) * np.hanning(WINDOW_FRAMES)[None, :, None]
    power = np.mean(np.square(np.abs(np.fft.rfft(blocks, axis=1))), axis=0) * (2 / WINDOW_FRAMES**2)
    totals = np.concatenate([np.zeros((1, clip.channels)), np.cumsum(power, axis=0)])
    places = np.searchsorted(np.fft.rfftfreq(WINDOW_FRAMES, 1 / clip.rate_hz), edges)
    return np.asarray(totals[places[1:]] - totals[places[:-1]])
