"""What two different loudspeakers do to the same music is the sound under test, and no giveaway."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from audio.clip import Clip
from audio.files import reading
from audio.giveaways import inspection, production
from audio.levels.weighting import level_db
from demo_tracks import loudspeakers, tracks
from demo_tracks.biquads import Biquad, apply

RATE_HZ = 48_000
PIECES = [track.name for track in tracks.TRACKS]
Samples = NDArray[np.float64]


def as_loud_as(samples: Samples, reference: Samples) -> Clip:
    one, two = (level_db(Clip(each, RATE_HZ), "bs1770") for each in (reference, samples))
    assert one is not None
    assert two is not None
    return Clip(samples * 10 ** ((one - two) / 20), RATE_HZ)


@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize(("one", "two"), list(itertools.combinations(loudspeakers.LOUDSPEAKERS, 2)))
def test_every_pair_of_demo_loudspeakers_is_clean_on_every_piece(
    music: dict[str, Clip], piece: str, one: str, two: str
) -> None:
    first = loudspeakers.render(one, music[piece].samples, RATE_HZ)
    second = as_loud_as(loudspeakers.render(two, music[piece].samples, RATE_HZ), first)
    assert inspection.inspect(piece, {one: Clip(first, RATE_HZ), two: second}) == []


@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("number", range(2))
def test_plausible_minimum_phase_responses_are_clean(music: dict[str, Clip], piece: str, number: int) -> None:
    """Bass from 30 to 80 Hz on, six resonances of up to ±5 dB, treble up or down by 4 dB; ten drawn at random."""
    rng = np.random.default_rng([number, PIECES.index(piece)])
    filters = [Biquad("high-pass", float(rng.uniform(30, 80)), q=float(rng.uniform(0.5, 1.0)))]
    for freq_hz in np.exp(rng.uniform(np.log(80), np.log(14_000), 6)):
        gain_db, quality = float(rng.uniform(-5, 5)), float(rng.uniform(0.5, 4))
        filters.append(Biquad("peaking", float(freq_hz), gain_db=gain_db, q=quality))
    filters.append(Biquad("high-shelf", 8000.0, gain_db=float(rng.uniform(-4, 4)), q=0.7))
    samples = music[piece].samples
    other = as_loud_as(apply(tuple(filters), samples, RATE_HZ), samples)
    assert inspection.inspect(piece, {"one": Clip(samples, RATE_HZ), "two": other}) == []


@pytest.mark.parametrize("cut_hz", [450.0, 1500.0])
@pytest.mark.parametrize("piece", ["strings", "voice"])
def test_a_crossover_that_turns_the_phase_once_round_has_no_turned_polarity(
    music: dict[str, Clip], piece: str, cut_hz: float
) -> None:
    """Of fourth order (Linkwitz and Riley): both ways in step at the cut, their sum an all-pass."""
    samples = music[piece].samples
    ways = (butter(2, cut_hz, kind, fs=RATE_HZ, output="sos") for kind in ("low", "high"))
    summed = sum(sosfilt(np.repeat(way, 2, 0), samples, axis=0) for way in ways)
    found = inspection.inspect(piece, {"one": Clip(samples, RATE_HZ), "two": as_loud_as(summed, samples)})
    assert "polarity" not in {each.kind for each in found}


ROLL_OFFS = [(2, 8000), (2, 14_000), (4, 6000), (4, 12_000)]
ROLLED_OFF = [*PIECES, "spoken"]


@pytest.mark.parametrize("piece", ROLLED_OFF)
@pytest.mark.parametrize(("order", "cut_hz"), ROLL_OFFS)
def test_a_gentle_roll_off_is_no_format(real: dict[str, Clip], piece: str, order: int, cut_hz: int) -> None:
    samples = real[piece].samples
    soft = as_loud_as(sosfilt(butter(order, cut_hz, fs=RATE_HZ, output="sos"), samples, axis=0), samples)
    whole = Clip(samples, RATE_HZ)
    assert production.bandwidth(piece, "two", whole, soft) == production.bandwidth(piece, "one", soft, whole) == []
    if ROLL_OFFS[ROLLED_OFF.index(piece) % len(ROLL_OFFS)] == (order, cut_hz):  # nor anything else, once a piece
        assert inspection.inspect(piece, {"one": whole, "two": soft}) == []


@pytest.mark.parametrize("piece", PIECES)
def test_the_turning_phase_of_a_crossover_is_clean(music: dict[str, Clip], piece: str) -> None:
    """A two-way crossover of fourth order at 2.5 kHz: its sum is an all-pass that turns the phase once round."""
    samples = music[piece].samples
    low, high = (butter(2, 2500, kind, fs=RATE_HZ, output="sos") for kind in ("low", "high"))
    summed = sosfilt(np.repeat(low, 2, 0), samples, axis=0) + sosfilt(np.repeat(high, 2, 0), samples, axis=0)
    assert inspection.inspect(piece, {"one": Clip(samples, RATE_HZ), "two": as_loud_as(summed, samples)}) == []


SPOKEN = sorted(Path("/usr/share/sounds/alsa").glob("*_*.wav"))
assert SPOKEN, "the spoken words are missing: install alsa-utils"


@pytest.mark.parametrize("path", SPOKEN, ids=lambda path: path.stem)
def test_spoken_words_through_two_filters_are_no_giveaway(path: Path) -> None:
    spoken = reading.read(path)
    warm = sosfilt(butter(1, 6000, fs=spoken.rate_hz, output="sos"), 0.3 * spoken.samples, axis=0)
    lean = sosfilt(butter(2, 90, "highpass", fs=spoken.rate_hz, output="sos"), 0.3 * spoken.samples, axis=0)
    assert spoken.rate_hz == RATE_HZ
    assert inspection.inspect("p", {"one": Clip(warm, RATE_HZ), "two": as_loud_as(lean, warm)}) == []
