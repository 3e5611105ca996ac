"""Each cue planted in real music and real speech, just above its limit and just below, either way round.

How much was planted is known by construction, so that is what must be measured; and nothing else may be found.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline
from scipy.signal import fftconvolve, firwin, resample_poly

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways import inspection
from audio.giveaways.findings import KINDS, LIMITS, Finding
from audio.mend import Mend
from demo_tracks import tracks

RATE_HZ = 48_000
PIECES = ("strings", "drums", "chords", "spoken")
FEW = ("drums", "voice", "spoken")  # where the measure does not hang on the music
Samples = NDArray[np.float64]


def found_between(reference: Samples, other: Samples) -> list[Finding]:
    return inspection.inspect("p", {"one": Clip(reference, RATE_HZ), "two": Clip(other, RATE_HZ)})


def only(found: list[Finding], kind: str) -> Finding:
    """The one finding there is, which is of this kind."""
    assert [each.kind for each in found] == [kind]
    assert (found[0].setup, found[0].passage) == ("two", "p")
    return found[0]


def decibels(level_db: float) -> float:
    return float(10 ** (level_db / 20))


def delayed(samples: Samples, frames: float) -> Samples:
    """Later by a broken number of frames, by the shift theorem."""
    padded = np.pad(samples, ((8192, 8192), (0, 0)))
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(padded)) * frames)[:, None]
    return np.fft.irfft(np.fft.rfft(padded, axis=0) * turn, len(padded), axis=0)[8192:-8192]


def on_another_clock(samples: Samples, ppm: float) -> Samples:
    """As a recorder holds them whose clock is `ppm` fast: read off a quintic through four-fold oversampled samples."""
    fine = resample_poly(samples, 4, 1, axis=0)
    places = np.clip(4 * np.arange(len(samples)) / (1 + 1e-6 * ppm), 0, len(fine) - 1)
    return make_interp_spline(np.arange(len(fine)), fine, k=5)(places)


def walled(samples: Samples, cut_hz: float, depth_db: float) -> Samples:
    """All above a frequency turned down at once, within some 150 Hz."""
    taps = firwin(2001, cut_hz, fs=RATE_HZ, window=("kaiser", 10.0))
    kept = fftconvolve(samples, taps[:, None], "same", axes=0)
    return kept + decibels(-depth_db) * (samples - kept)


def test_every_kind_has_a_limit_with_its_unit_and_source() -> None:
    assert {limit.kind for limit in LIMITS.values()} == set(KINDS)
    assert all(limit.unit and limit.source for limit in LIMITS.values())


@pytest.mark.parametrize("piece", PIECES)
def test_alike_recordings_have_no_giveaway(real: dict[str, Clip], piece: str) -> None:
    assert found_between(real[piece].samples, real[piece].samples) == []


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", FEW)
def test_level(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, samples * decibels(0.11 * sign)), "level")
    assert finding.measured == pytest.approx(0.11 * sign, abs=0.002)
    assert finding.mend is None
    assert found_between(samples, samples * decibels(0.09 * sign)) == []


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", FEW)
def test_channel_level(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples

    def leaning(apart_db: float) -> list[Finding]:
        leant = samples * np.array([decibels(apart_db / 2), decibels(-apart_db / 2)])
        return [each for each in found_between(samples, leant) if each.kind != "level"]  # leaning moves the sum too

    assert only(leaning(0.55 * sign), "channel-level").measured == pytest.approx(0.55, abs=0.005)
    assert leaning(0.45 * sign) == []


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", PIECES)
def test_onset(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, delayed(samples, 50.37 * sign)), "onset")
    assert finding.measured == pytest.approx(1000 * 50.37 * sign / RATE_HZ, abs=1000 * 0.01 / RATE_HZ)
    assert finding.mend == Mend(delay_s=finding.measured / 1000)
    assert found_between(samples, delayed(samples, 45.6 * sign)) == []


@pytest.mark.parametrize("delay_s", [0.1, -0.1, 1.2, -1.2])
@pytest.mark.parametrize("piece", PIECES)
def test_a_long_delay_shows_as_onset_and_as_nothing_else(real: dict[str, Clip], piece: str, delay_s: float) -> None:
    samples = real[piece].samples
    shift = round(abs(delay_s) * RATE_HZ)
    silence = np.zeros((shift, 2))
    late = np.concatenate([silence, samples[:-shift]]) if delay_s > 0 else np.concatenate([samples[shift:], silence])
    assert only(found_between(samples, late), "onset").measured == pytest.approx(1000 * delay_s, abs=0.0005)


@pytest.mark.parametrize("ppm", [110.0, -110.0, 950.0, -950.0])
@pytest.mark.parametrize("piece", PIECES)
def test_drift(real: dict[str, Clip], piece: str, ppm: float) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, on_another_clock(samples, ppm)), "drift")
    assert finding.measured == pytest.approx(ppm * 1e-3 * len(samples) / RATE_HZ, abs=0.02)
    assert finding.mend is not None
    assert finding.mend.stretch_ppm == pytest.approx(ppm, abs=4)
    assert found_between(samples, on_another_clock(samples, 0.8 * np.sign(ppm) * 100)) == []  # 0.4 ms


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("end", ["head", "tail"])
@pytest.mark.parametrize("piece", ["voice", "chords", "texture", "spoken"])
def test_length(real: dict[str, Clip], piece: str, end: str, swapped: bool) -> None:
    whole = real[piece].samples
    block = RATE_HZ // 200
    levels = np.mean(np.square(whole[: len(whole) // block * block].reshape(-1, block * 2)), axis=1)
    loud = np.flatnonzero(levels > 0.03 * levels.max())  # begin and end the passage where it sounds
    whole = whole[loud[0] * block : (loud[-1] + 1) * block]

    def cut(length_ms: int) -> list[Finding]:
        short = whole.copy()
        frames = length_ms * RATE_HZ // 1000
        if end == "head":
            short[:frames] = 0
        else:
            short[-frames:] = 0
        return found_between(short, whole) if swapped else found_between(whole, short)

    finding = only(cut(70), "length")
    assert finding.measured == pytest.approx(70 if swapped else -70, abs=15)
    assert cut(35) == []


def flat_tops(samples: Samples, count: int) -> Samples:
    """The samples with this many flat tops of five samples each, at their own ceiling, far apart."""
    result = samples.copy()
    ceiling = np.abs(samples).max() * 1.02
    loud = np.argsort(-np.abs(samples[:, 0]))
    places: list[int] = []
    for place in loud:
        if len(places) < count and 10 < place < len(samples) - 10 and all(abs(place - p) > 100 for p in places):
            places.append(int(place))
            result[place - 2 : place + 3, 0] = ceiling * np.sign(samples[place, 0])
    assert len(places) == count
    # one such sample on either side of zero, so that both ceilings are the same and no music reaches them
    result[5, 0], result[6, 0] = ceiling, -ceiling
    return result


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("piece", FEW)
def test_clipping(real: dict[str, Clip], piece: str, swapped: bool) -> None:
    samples = real[piece].samples

    def clipped(count: int) -> list[Finding]:
        one, two = flat_tops(samples, 0), flat_tops(samples, count)
        return found_between(two, one) if swapped else found_between(one, two)

    assert only(clipped(3), "clipping").measured == (-3 if swapped else 3)
    assert clipped(2) == []


@pytest.mark.parametrize("ceiling", [1.0, 0.5])
def test_clipping_at_full_scale_and_below_is_found(real: dict[str, Clip], ceiling: float) -> None:
    """A stage before the recorder may have clipped: its ceiling is lower than the file's."""
    samples = real["strings"].samples
    driven = np.clip(samples / np.quantile(np.abs(samples), 0.999), -1, 1) * ceiling
    assert "clipping" in {each.kind for each in found_between(samples, driven)}


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", ["drums", "spoken"])
def test_noise_floor(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    noise = np.random.default_rng(7).standard_normal((2, *samples.shape)) * decibels(-75)

    def noisier(by_db: float) -> list[Finding]:
        one, two = noise[0] * decibels(-by_db * sign / 2), noise[1] * decibels(by_db * sign / 2)
        return found_between(samples + one, samples + two)

    assert only(noisier(3.6), "noise-floor").measured == pytest.approx(
        3.6 * sign, abs=0.6
    )  # the words have noise of their own
    assert noisier(2.4) == []


@pytest.mark.parametrize("piece", ["strings", "voice", "chords", "texture"])
def test_noise_without_a_pause_to_hear_it_in_is_not_judged(real: dict[str, Clip], piece: str) -> None:
    samples = real[piece].samples
    noise = np.random.default_rng(7).standard_normal(samples.shape) * decibels(-75)
    assert found_between(samples, samples + noise) == []


@pytest.mark.parametrize("piece", PIECES)
def test_polarity(real: dict[str, Clip], piece: str) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, -samples), "polarity")
    assert finding.measured == pytest.approx(-1, abs=0.001)
    assert finding.mend == Mend(invert=True)


@pytest.mark.parametrize("turned", [0, 1])
@pytest.mark.parametrize("piece", PIECES)
def test_one_turned_channel_shows_as_polarity_that_no_mend_undoes(
    real: dict[str, Clip], piece: str, turned: int
) -> None:
    samples = real[piece].samples.copy()
    samples[:, turned] *= -1
    finding = only(found_between(real[piece].samples, samples), "polarity")
    assert f"in channel {turned + 1}" in finding.what
    assert finding.mend is None


@pytest.mark.parametrize("change", [lambda x: x, lambda x: -x, lambda x: delayed(x, 333.3)])
@pytest.mark.parametrize("piece", PIECES)
def test_exchanged_channels(real: dict[str, Clip], piece: str, change: Callable[[Samples], Samples]) -> None:
    """Whatever else is wrong with the recording."""
    found = found_between(real[piece].samples, change(real[piece].samples[:, ::-1]))
    finding = next(each for each in found if each.kind == "channels")
    assert "left and right exchanged" in finding.what
    assert len(found) == (1 if np.array_equal(change(np.eye(2)), np.eye(2)) else 2)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("piece", FEW)
def test_a_missing_channel(real: dict[str, Clip], piece: str, swapped: bool) -> None:
    samples = real[piece].samples
    level = np.sqrt(np.mean(np.square(samples), axis=0))

    def without(drop_db: float) -> list[Finding]:
        """The second channel so far below the first, against one that is as loud."""
        even = samples * level.max() / level
        poor = even * np.array([1.0, decibels(-drop_db)])
        return found_between(poor, even) if swapped else found_between(even, poor)

    assert only(without(31), "channels").measured == pytest.approx(31, abs=0.01)
    assert "channels" not in {each.kind for each in without(28) if "channel 2" in each.what}


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", FEW)
def test_mono_against_stereo(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    middle, side = samples.sum(axis=1, keepdims=True) / 2, (samples[:, :1] - samples[:, 1:]) / 2

    def narrower(by_db: float) -> list[Finding]:
        narrow = middle + decibels(-by_db) * side * np.array([1.0, -1.0])
        return found_between(samples, narrow) if sign < 0 else found_between(narrow, samples)

    assert only(narrower(16), "channels").measured == pytest.approx(16 * sign, abs=0.01)
    assert "channels" not in {each.kind for each in narrower(14)}


def test_another_number_of_channels(real: dict[str, Clip]) -> None:
    samples = real["chords"].samples
    assert only(found_between(samples, samples[:, :1]), "channels").measured == -1
    assert only(found_between(samples[:, :1], samples), "channels").measured == 1


def test_exchanged_surround_channels(real: dict[str, Clip]) -> None:
    four = np.concatenate([real["strings"].samples, real["drums"].samples], axis=1)
    assert found_between(four, four) == []
    finding = only(found_between(four, four[:, [0, 2, 1, 3]]), "channels")
    assert "1, 3, 2, 4" in finding.what


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("piece", FEW)
def test_dc(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, samples + 0.00112 * sign), "dc")
    assert finding.measured == pytest.approx(20 * np.log10(0.00112), abs=0.01)
    assert only(found_between(samples + 0.00112 * sign, samples), "dc").measured == pytest.approx(finding.measured)
    assert found_between(samples, samples + 0.00089 * sign) == []


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("cut_hz", [11_000.0, 16_000.0])
@pytest.mark.parametrize("piece", ["drums", "strings", "chords", "texture"])
def test_bandwidth(real: dict[str, Clip], piece: str, cut_hz: float, swapped: bool) -> None:
    samples = real[piece].samples

    def cut(depth_db: float) -> list[Finding]:
        poor = walled(samples, cut_hz, depth_db)
        poor *= np.sqrt(np.sum(np.square(samples)) / np.sum(np.square(poor)))
        found = found_between(poor, samples) if swapped else found_between(samples, poor)
        return [each for each in found if each.kind != "level"]  # what is lost is lost to the loudness too

    finding = only(cut(26), "format")
    assert finding.measured == pytest.approx(-26 if swapped else 26, abs=5)
    assert finding.unit == "dB"
    assert cut(15) == []


def test_the_end_of_a_44_100_hz_recording_is_no_bandwidth(real: dict[str, Clip]) -> None:
    """Nobody hears what is lost beyond 20 kHz."""
    samples = real["strings"].samples
    there_and_back = resample_poly(resample_poly(samples, 147, 160, axis=0), 160, 147, axis=0)[: len(samples)]
    assert found_between(samples, there_and_back) == []


@pytest.mark.parametrize(("kept", "count"), [(24, 0), (20, 0), (19, 1), (16, 1)])
@pytest.mark.parametrize("swapped", [False, True])
def test_word_length(tmp_path: Path, kept: int, count: int, swapped: bool) -> None:
    """A 24-bit file in which only some of the bits are in use."""
    whole = reading.read(tracks.path("strings"), 0, 5 * RATE_HZ)
    short = Clip(np.rint(whole.samples * 2 ** (kept - 1)) / 2 ** (kept - 1), RATE_HZ)
    clips = {"one": whole, "two": short}
    for name, clip in clips.items():
        writing.write(tmp_path / f"{name}.wav", clip, dither=False)
    names = ("two", "one") if swapped else ("one", "two")
    found = inspection.inspect(
        "p", {name: clips[name] for name in names}, {name: reading.inspect(tmp_path / f"{name}.wav") for name in names}
    )
    assert [(each.kind, each.measured, each.unit) for each in found] == [
        ("format", (24 - kept) if swapped else (kept - 24), "bits")
    ] * count
