"""Each cue planted in real music and real speech, just above its limit and just below, either way round.

How much was planted is known by construction, so that is what must be measured; and nothing else may be found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.fft import next_fast_len
from scipy.signal import fftconvolve, firwin, resample_poly

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways import blemishes, clipping, ends, inspection, level_cues, production, timing
from audio.giveaways.findings import KINDS, LIMITS, Finding
from audio.giveaways.wiring import wiring
from audio.levels.weighting import By, level_db
from audio.mend import Mend
from demo_tracks import loudspeakers, tracks
from tests import families

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


def in_turn(pieces: Sequence[str], *ways: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Every piece with each of the ways but the last, which takes turns: the music does not hang on which way round."""
    *each, last = ways
    return [
        (piece, *chosen, last[(number + sum(places)) % len(last)])
        for number, piece in enumerate(pieces)
        for places in product(*(range(len(values)) for values in each))
        for chosen in [[values[place] for values, place in zip(each, places, strict=True)]]
    ]


def of_time(one: Samples, two: Samples) -> list[Finding]:
    """What time alone tells, without the rest of an inspection."""
    clips = Clip(one, RATE_HZ), Clip(two, RATE_HZ)
    step = timing.in_step(*clips)
    assert step is not None
    return timing.timing("p", "two", *clips, step)


def decibels(level_db: float) -> float:
    return float(10 ** (level_db / 20))


def delayed(samples: Samples, frames: float) -> Samples:
    """Later by a broken number of frames, by the shift theorem."""
    size = next_fast_len(len(samples) + 16_384, real=True)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)
    channels = np.fft.rfft(np.pad(samples.T, ((0, 0), (8192, 0))), size)
    return np.fft.irfft(channels * turn, size)[:, 8192 : 8192 + len(samples)].T.copy()


TAPS = range(-2, 4)


class AnotherClock:
    """A recorder whose clock is off: samples read off quintics through six four-fold oversampled ones (Lagrange)."""

    def __init__(self, samples: Samples) -> None:
        self.frames = len(samples)
        self.fine = resample_poly(samples, 4, 1, axis=0)

    def recorded(self, ppm: float) -> Samples:
        """As it holds them where it runs so many ppm fast."""
        places = np.clip(4 * np.arange(self.frames) / (1 + 1e-6 * ppm), -TAPS[0], len(self.fine) - 1 - TAPS[-1])
        whole = places.astype(int)
        part = (places - whole)[:, None]
        result = np.zeros((self.frames, self.fine.shape[1]))
        for tap in TAPS:
            weights = np.prod([(part - other) / (tap - other) for other in TAPS if other != tap], axis=0)
            result += weights * self.fine[whole + tap]
        return result


@pytest.fixture(scope="module")
def clocks(longer: dict[str, Clip]) -> Callable[[str], AnotherClock]:
    return cache(lambda piece: AnotherClock(longer[piece].samples))


def through(loudspeaker: str, clip: Clip) -> Clip:
    """A piece through an imaginary loudspeaker, at -27 LUFS."""
    return as_loud(loudspeakers.render(loudspeaker, clip.samples, clip.rate_hz), -27)


def as_loud(samples: Samples, level_lufs: float) -> Clip:
    level = level_db(Clip(samples, RATE_HZ), "bs1770")
    assert level is not None
    return Clip(samples * decibels(level_lufs - level), RATE_HZ)


def loudness(samples: Samples) -> float:
    level = level_db(Clip(samples, RATE_HZ), "bs1770")
    assert level is not None
    return level


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


@pytest.mark.parametrize(("piece", "sign"), in_turn(FEW, (1, -1)))
def test_level(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, samples * decibels(0.11 * sign)), "level")
    assert finding.measured == pytest.approx(0.11 * sign, abs=0.002)
    assert finding.mend is None
    assert found_between(samples, samples * decibels(0.09 * sign)) == []


@pytest.mark.parametrize(("piece", "sign"), in_turn(FEW, (1, -1)))
def test_channel_level(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples

    def leaning(apart_db: float) -> list[Finding]:
        leant = samples * np.array([decibels(apart_db / 2), decibels(-apart_db / 2)])
        return found_between(samples, as_loud(leant, loudness(samples)).samples)

    found = only(leaning(0.55 * sign), "channel-level")
    assert found.measured == pytest.approx(0.55, abs=0.005)
    weaker, stronger = (2, 1) if sign > 0 else (1, 2)
    assert found.what.endswith(f"in two channel {weaker} is so much weaker against channel {stronger} than in one")
    assert leaning(0.45 * sign) == []


@pytest.mark.parametrize(("piece", "sign"), in_turn(PIECES, (1, -1)))
def test_onset(longer: dict[str, Clip], piece: str, sign: int) -> None:
    """The limit of 1 ms is 48 frames."""
    samples = longer[piece].samples
    finding = only(found_between(samples, delayed(samples, 50.3 * sign)), "onset")
    assert finding.measured == pytest.approx(1000 * 50.3 * sign / RATE_HZ, abs=1000 * 0.01 / RATE_HZ)
    assert finding.mend == Mend(delay_s=finding.measured / 1000)
    look = found_between if piece == "spoken" else of_time  # no other kind either, once
    assert look(samples, delayed(samples, 45.7 * sign)) == []


@pytest.mark.parametrize("piece", ["strings", "drums", "voice", "chords", "texture"])
def test_a_delay_is_found_to_a_fiftieth_of_a_sample(longer: dict[str, Clip], piece: str) -> None:
    """At 40 dB of uncorrelated noise; twice the 0.01 sample that is asked of white signals at 30 dB, for music."""
    clip = through("sallow", longer[piece])
    noise = np.random.default_rng(3).normal(0, clip.samples.std() / 100, clip.samples.shape)
    for frames in (0.0, 3.37, -17.52):
        late = wiring(clip, Clip(delayed(clip.samples, frames) + noise, RATE_HZ))
        assert late is not None
        assert late.delay_s * RATE_HZ == pytest.approx(frames, abs=0.02)


@pytest.mark.parametrize(("piece", "size_s", "sign"), in_turn(PIECES, (0.1, 1.2), (1, -1)))
def test_a_long_delay_shows_as_onset_and_as_nothing_else(
    real: dict[str, Clip], longer: dict[str, Clip], piece: str, size_s: float, sign: int
) -> None:
    delay_s = sign * size_s
    samples = (longer if abs(delay_s) > 1 else real)[piece].samples
    shift = round(abs(delay_s) * RATE_HZ)
    silence = np.zeros((shift, 2))
    late = np.concatenate([silence, samples[:-shift]]) if delay_s > 0 else np.concatenate([samples[shift:], silence])
    assert only(found_between(samples, late), "onset").measured == pytest.approx(1000 * delay_s, abs=0.0005)


@pytest.mark.parametrize(("piece", "off_ppm", "sign"), in_turn(PIECES, (110.0, 950.0), (1, -1)))
def test_drift(
    longer: dict[str, Clip], clocks: Callable[[str], AnotherClock], piece: str, off_ppm: float, sign: int
) -> None:
    ppm = sign * off_ppm
    samples = longer[piece].samples
    look = found_between if piece == ("strings" if off_ppm > 500 else "spoken") else of_time  # nor any other kind
    finding = only(look(samples, clocks(piece).recorded(ppm)), "drift")
    assert finding.measured == pytest.approx(ppm * 1e-3 * len(samples) / RATE_HZ, abs=0.02)
    assert finding.mend is not None
    assert finding.mend.stretch_ppm == pytest.approx(ppm, abs=4)


@pytest.mark.parametrize(("piece", "ppm"), in_turn(PIECES, (80.0, -80.0)))
def test_a_drift_of_less_than_half_a_millisecond_passes(
    longer: dict[str, Clip], clocks: Callable[[str], AnotherClock], piece: str, ppm: float
) -> None:
    look = found_between if piece == "strings" else of_time  # no other kind either, once
    assert look(longer[piece].samples, clocks(piece).recorded(ppm)) == []


def test_drift_over_a_longer_passage_is_known_more_closely() -> None:
    """0.6 ms beyond the limit of 0.5 ms, 0.4 ms within, gathered over eight seconds through a loudspeaker."""
    whole = through("sallow", reading.read(tracks.path("strings"), RATE_HZ, 8 * RATE_HZ))
    clock = AnotherClock(whole.samples)
    ppm = 600 / whole.length_s
    finding = only(found_between(whole.samples, clock.recorded(ppm)), "drift")
    assert finding.measured == pytest.approx(0.6, abs=0.02)
    assert finding.mend is not None
    assert finding.mend.stretch_ppm == pytest.approx(ppm, abs=1.5)
    assert found_between(whole.samples, clock.recorded(-ppm * 2 / 3)) == []


@pytest.mark.parametrize(
    ("piece", "end", "swapped"),
    in_turn(("voice", "chords", "texture", "spoken", "strings"), ("head", "tail"), (False, True)),
)
def test_length(real: dict[str, Clip], piece: str, end: str, swapped: bool) -> None:
    """A stretch missing at an end, in music that sounds to both ends; the limit is 50 ms."""
    beyond_ms, within_ms = (55, 45) if piece == "strings" else (70, 35)
    whole = real[piece].samples
    block = RATE_HZ // 200
    levels = np.mean(np.square(whole[: len(whole) // block * block].reshape(-1, block * 2)), axis=1)
    loud = np.flatnonzero(levels > 0.03 * levels.max())  # begin and end the passage where it sounds
    whole = whole[loud[0] * block : (loud[-1] + 1) * block]

    def cut(length_ms: int) -> tuple[Samples, Samples]:
        short = whole.copy()
        frames = length_ms * RATE_HZ // 1000
        if end == "head":
            short[:frames] = 0
        else:
            short[-frames:] = 0
        return (short, whole) if swapped else (whole, short)

    finding = only(found_between(*cut(beyond_ms)), "length")
    assert finding.measured == pytest.approx(beyond_ms if swapped else -beyond_ms, abs=15)
    assert ends.length("p", "two", *(Clip(each, RATE_HZ) for each in cut(within_ms))) == []
    if piece == "strings":  # and no other kind, at each end
        assert found_between(*cut(within_ms)) == []


def test_a_clip_that_ends_earlier_is_a_finding_of_length(real: dict[str, Clip]) -> None:
    sounding = real["strings"].samples
    only(found_between(sounding, sounding[: -RATE_HZ // 10]), "length")


@pytest.mark.parametrize("swapped", [False, True])
def test_what_a_room_rings_out_after_the_end_is_no_length_and_music_that_goes_on_is(
    real: dict[str, Clip], swapped: bool
) -> None:
    """Music that stops 0.4 s before the end of both, in a room of 0.5 s that rings out; then the same in one alone."""
    whole = real["chords"].samples
    short = whole.copy()
    short[-round(0.4 * RATE_HZ) :] = 0

    def told(played: Samples) -> list[Finding]:
        wet = families.room(np.random.default_rng(3), played, 0.5, 3.0, RATE_HZ)
        pair = (wet, short) if swapped else (short, wet)
        return ends.length("p", "two", *(Clip(each, RATE_HZ) for each in pair), order=(0, 1))

    assert told(short) == []
    (finding,) = told(whole)
    assert finding.measured == pytest.approx(-400 if swapped else 400, abs=15)


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


@pytest.mark.parametrize(("piece", "swapped"), in_turn(FEW, (False, True)))
def test_clipping(real: dict[str, Clip], piece: str, swapped: bool) -> None:
    samples = real[piece].samples

    def clipped(count: int) -> list[Finding]:
        one, two = flat_tops(samples, 0), flat_tops(samples, count)
        assert [clipping.clipped_runs(Clip(each, RATE_HZ)) for each in (one, two)] == [0, count]
        return found_between(two, one) if swapped else found_between(one, two)

    (finding,) = clipped(3)
    who, whom = ("one", "two") if swapped else ("two", "one")
    assert (finding.kind, finding.setup, finding.against, finding.measured) == ("clipping", who, whom, 3)
    assert finding.what == f"{who} clips more often than {whom} (3 flat tops against 0)"
    assert clipped(2) == []


@pytest.mark.parametrize("ceiling", [1.0, 0.5, "matched"])
def test_clipping_at_full_scale_and_below_is_found(real: dict[str, Clip], ceiling: float | str) -> None:
    """A stage before the recorder may have clipped: its ceiling is lower than the file's."""
    samples = real["strings"].samples
    driven = np.clip(samples / np.quantile(np.abs(samples), 0.999), -1, 1)
    lowered = as_loud(driven, loudness(samples)).samples if isinstance(ceiling, str) else driven * ceiling
    assert "clipping" in {each.kind for each in found_between(samples, lowered)}


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    ("piece", "beyond_db", "within_db", "off_db"),
    [("drums", 3.5, 2.5, 0.5), ("spoken", 3.6, 2.4, 0.6)],  # the words have noise of their own
)
def test_noise_floor(
    real: dict[str, Clip], piece: str, beyond_db: float, within_db: float, off_db: float, sign: int
) -> None:
    samples = real[piece].samples
    noise = np.random.default_rng(7).standard_normal((2, *samples.shape)) * decibels(-75)

    def noisier(by_db: float) -> list[Finding]:
        one, two = noise[0] * decibels(-by_db * sign / 2), noise[1] * decibels(by_db * sign / 2)
        return found_between(samples + one, samples + two)

    (finding,) = noisier(beyond_db)
    assert (finding.kind, finding.setup) == ("noise-floor", "two" if sign > 0 else "one")
    assert finding.measured == pytest.approx(beyond_db, abs=off_db)
    assert noisier(within_db) == []


@pytest.mark.parametrize("piece", PIECES)
def test_polarity(real: dict[str, Clip], piece: str) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, -samples), "polarity")
    assert finding.measured == pytest.approx(-1, abs=0.001)
    assert finding.mend == Mend(invert=True)


@pytest.mark.parametrize("piece", ["strings", "drums"])
def test_polarity_shows_between_two_different_loudspeakers(real: dict[str, Clip], piece: str) -> None:
    one, two = (through(name, real[piece]).samples for name in ("sallow", "bracken"))
    assert only(found_between(one, -two), "polarity").mend == Mend(invert=True)


@pytest.mark.parametrize(("correlation", "beyond"), [(0.34, True), (0.26, False)])
def test_polarity_at_its_limit(longer: dict[str, Clip], correlation: float, beyond: bool) -> None:
    """Turned round and buried in noise of the music's own colour until the correlation is just above or below 0.3."""
    samples = through("sallow", longer["strings"]).samples
    rng = np.random.default_rng(9)
    spectrum = np.abs(np.fft.rfft(samples[:, 0])) * np.exp(2j * np.pi * rng.random(len(samples) // 2 + 1))
    noise = np.fft.irfft(spectrum, len(samples))
    noise *= samples[:, 0].std() / noise.std() * np.sqrt(1 / correlation**2 - 1)
    buried = -samples + noise[:, None]
    late = wiring(Clip(samples, RATE_HZ), Clip(buried, RATE_HZ))
    assert late is not None
    assert ("polarity" in {each.kind for each in found_between(samples, buried)}) == beyond
    assert (late.correlation < -0.3) == beyond


@pytest.mark.parametrize(("piece", "turned"), in_turn(PIECES, (0, 1)))
def test_one_turned_channel_shows_as_polarity_that_no_mend_undoes(
    real: dict[str, Clip], piece: str, turned: int
) -> None:
    samples = real[piece].samples.copy()
    samples[:, turned] *= -1
    finding = only(found_between(real[piece].samples, samples), "polarity")
    assert finding.what.startswith("two has turned polarity against ")
    assert f"in channel {turned + 1} and not in the others" in finding.what
    assert "which of the two is wired right cannot be told" in finding.what
    assert finding.mend is None


@pytest.mark.parametrize("change", [lambda x: x, lambda x: -x, lambda x: delayed(x, 333.3)])
@pytest.mark.parametrize("piece", PIECES)
def test_exchanged_channels(real: dict[str, Clip], piece: str, change: Callable[[Samples], Samples]) -> None:
    """Whatever else is wrong with the recording."""
    found = found_between(real[piece].samples, change(real[piece].samples[:, ::-1]))
    finding = next(each for each in found if each.kind == "channels")
    assert finding.what.startswith("left and right of two are exchanged against ")
    assert "which of them is right cannot be told" in finding.what
    assert len(found) == (1 if np.array_equal(change(np.eye(2)), np.eye(2)) else 2)


@pytest.mark.parametrize(("piece", "swapped"), in_turn(FEW, (False, True)))
def test_a_missing_channel(real: dict[str, Clip], piece: str, swapped: bool) -> None:
    samples = real[piece].samples
    level = np.sqrt(np.mean(np.square(samples), axis=0))

    def without(drop_db: float) -> list[Finding]:
        """The second channel so far below the first, against one that is as loud."""
        even = samples * level.max() / level
        poor = even * np.array([1.0, decibels(-drop_db)])
        return found_between(poor, even) if swapped else found_between(even, poor)

    lost = only(without(31), "channels")
    assert lost.measured == pytest.approx(31, abs=0.01)
    assert lost.what == f"two {'has, unlike one,' if swapped else 'lacks'} channel 2 (31 dB)"
    assert "channels" not in {each.kind for each in without(28) if "channel 2" in each.what}


@pytest.mark.parametrize(("piece", "sign"), in_turn(FEW, (1, -1)))
def test_mono_against_stereo(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    middle, side = samples.sum(axis=1, keepdims=True) / 2, (samples[:, :1] - samples[:, 1:]) / 2

    def narrower(by_db: float) -> list[Finding]:
        narrow = middle + decibels(-by_db) * side * np.array([1.0, -1.0])
        return found_between(samples, narrow) if sign < 0 else found_between(narrow, samples)

    assert only(narrower(16), "channels").measured == pytest.approx(16 * sign, abs=0.01)
    assert "channels" not in {each.kind for each in narrower(14)}


@pytest.mark.parametrize("noise_dbfs", [-55.0, -85.0])
def test_a_noise_of_its_own_in_each_channel_of_a_mono_recording_is_no_stereo(
    longer: dict[str, Clip], noise_dbfs: float
) -> None:
    """Where it is heard it is told as noise; either was told as stereo, and nothing else was."""
    mono = longer["spoken"].samples[:, [0, 0]]
    hiss = decibels(noise_dbfs) * np.random.default_rng(5).standard_normal(mono.shape)
    found = found_between(mono, mono + hiss)
    assert [each.kind for each in found] == (["noise-floor"] if noise_dbfs > -60 else [])
    assert all(each.what.startswith("two has steady noise") for each in found)


def test_what_sounds_around_a_voice_is_lost_in_mono_however_steady(longer: dict[str, Clip]) -> None:
    voice = longer["spoken"].samples[:, [0, 0]]
    around = voice + decibels(-50.0) * np.random.default_rng(5).standard_normal(voice.shape)
    mono = around.mean(axis=1, keepdims=True) * np.ones(2)
    assert "mono against stereo?" in only(found_between(mono, around), "channels").what


def test_another_number_of_channels(real: dict[str, Clip]) -> None:
    samples = real["chords"].samples
    assert only(found_between(samples, samples[:, :1]), "channels").measured == -1
    assert only(found_between(samples[:, :1], samples), "channels").measured == 1


def test_exchanged_surround_channels(real: dict[str, Clip]) -> None:
    four = np.concatenate([real["strings"].samples, real["drums"].samples], axis=1)
    assert found_between(four, four) == []
    finding = only(found_between(four, four[:, [0, 2, 1, 3]]), "channels")
    assert "1, 3, 2, 4" in finding.what


def test_five_channels_are_inspected(real: dict[str, Clip]) -> None:
    strings = real["strings"].samples
    five = np.concatenate([strings, strings, strings[:, :1]], axis=1)
    assert "channel-level" in {each.kind for each in found_between(five, five * np.array([1, 1, 1, 0.9, 1]))}


@pytest.mark.parametrize("by", ["a", "c", "band"])
def test_level_is_found_in_the_other_measures_too(real: dict[str, Clip], by: By) -> None:
    one, two = real["strings"], Clip(real["strings"].samples * decibels(0.15), RATE_HZ)
    assert [each.kind for each in level_cues.levels("p", "two", one, two, None, by)] == ["level"]


@pytest.mark.parametrize(("piece", "sign"), in_turn(("drums", "spoken"), (1, -1)))
def test_dc(real: dict[str, Clip], piece: str, sign: int) -> None:
    samples = real[piece].samples
    finding = only(found_between(samples, samples + 0.00112 * sign), "dc")
    assert finding.measured == pytest.approx(20 * np.log10(0.00112), abs=0.01)
    assert finding.mend == Mend(high_pass_hz=10.0)
    assert "two has a DC offset that one has not" in finding.what
    (other,) = found_between(samples + 0.00112 * sign, samples)
    assert other.kind == "dc"
    assert other.measured == pytest.approx(finding.measured)
    assert "one has a DC offset that two has not" in other.what
    assert (other.setup, other.against) == ("one", "two")  # under the name of the one that has it
    assert found_between(samples, samples + 0.00089 * sign) == []


@pytest.mark.parametrize(
    ("offsets", "others", "words"),
    [
        ((-49.7, -49.7), (-44.5, -49.7), "two has more DC offset than one in channel 1"),
        ((-49.7, -44.5), (-49.7, -49.7), "one has more DC offset than two in channel 2"),
        ((-49.7, -200.0), (-49.7, -44.5), "two has more DC offset than one in channel 2"),
        ((-62.0, -62.0), (-62.0, -44.5), "two has a DC offset that one has not"),
    ],
)
def test_where_both_have_an_offset_neither_is_said_to_have_none(
    real: dict[str, Clip], offsets: tuple[float, float], others: tuple[float, float], words: str
) -> None:
    """Offsets of each channel in dBFS."""
    samples = real["drums"].samples - real["drums"].samples.mean(axis=0)
    pair = [Clip(samples + np.array([decibels(level_db) for level_db in each]), RATE_HZ) for each in (offsets, others)]
    (finding,) = blemishes.offset("p", "two", *pair)
    assert finding.what.replace("the reference", "one").startswith(f"{words} (")


def test_offsets_of_unlike_signs_are_told_as_such(real: dict[str, Clip]) -> None:
    samples = real["drums"].samples
    (finding,) = blemishes.offset(
        "p", "two", Clip(samples - 0.004, RATE_HZ), Clip(samples + np.array([0.004, 0.005]), RATE_HZ)
    )
    assert finding.what.startswith("two has a DC offset of the other sign than the reference in channel 2 (")


@pytest.mark.parametrize(("held_db", "beyond_db", "within_db"), [(-40.0, -38.5, -42.0), (-30.0, -28.5, -32.0)])
def test_dc_counts_above_what_the_music_itself_holds_down_there(
    real: dict[str, Clip], held_db: float, beyond_db: float, within_db: float
) -> None:
    """A tone of 30 Hz at a known level, of which means over 1/120 s keep all but 0.9 dB (sinc of a quarter)."""
    samples = real["drums"].samples
    tone = np.sqrt(2) * decibels(held_db) * np.sin(2 * np.pi * 30 * np.arange(len(samples)) / RATE_HZ)
    deep = samples + tone[:, None]
    only(found_between(deep, deep + decibels(beyond_db)), "dc")
    assert found_between(deep, deep + decibels(within_db)) == []


@pytest.mark.parametrize("pause_s", [0.0, 0.2])
def test_an_offset_that_comes_and_goes_with_the_music_is_its_own(pause_s: float) -> None:
    """Buzzing of one sign, stronger or weaker in each syllable; of it a room and turned polarity make other offsets."""
    rng = np.random.default_rng(17)
    parts = []
    for _ in range(20):
        t = np.arange(round(rng.uniform(0.1, 0.25) * RATE_HZ)) / RATE_HZ
        buzz = np.maximum(np.sin(2 * np.pi * rng.uniform(95, 140) * t), 0) * np.sin(np.pi * t / t[-1])
        parts += [rng.uniform(0.005, 0.1) * buzz, np.zeros(round(pause_s * RATE_HZ))]
    own = np.concatenate(parts)[:, None] + 1e-5 * rng.standard_normal((sum(map(len, parts)), 2))
    for changed in (families.room(np.random.default_rng(3), own, 0.3, 0.0, RATE_HZ), -own):
        for one, two in ((own, changed), (changed, own)):
            assert blemishes.offset("p", "two", Clip(one, RATE_HZ), Clip(two, RATE_HZ)) == []
    assert blemishes.offset("p", "two", Clip(own, RATE_HZ), Clip(own + 0.02, RATE_HZ))


@pytest.mark.parametrize(
    ("piece", "cut_hz", "swapped"),
    in_turn(("drums", "strings", "chords", "texture"), (11_000.0, 16_000.0), (False, True)),
)
def test_bandwidth(real: dict[str, Clip], piece: str, cut_hz: float, swapped: bool) -> None:
    samples = real[piece].samples

    def cut(depth_db: float) -> tuple[Samples, Samples]:
        poor = walled(samples, cut_hz, depth_db)
        poor *= np.sqrt(np.sum(np.square(samples)) / np.sum(np.square(poor)))
        return (poor, samples) if swapped else (samples, poor)

    def found(depth_db: float) -> list[Finding]:
        # what is lost is lost to the loudness too
        return [each for each in found_between(*cut(depth_db)) if each.kind != "level"]

    finding = only(found(26), "format")
    assert finding.measured == pytest.approx(-26 if swapped else 26, abs=5)
    assert finding.unit == "dB"
    assert production.bandwidth("p", "two", *(Clip(each, RATE_HZ) for each in cut(15))) == []
    if piece == "drums":  # and no other kind, at each frequency
        assert found(15) == []


def test_bandwidth_by_a_files_own_filter(real: dict[str, Clip]) -> None:
    samples = real["drums"].samples
    low_pass = firwin(401, 12_000, fs=RATE_HZ, window=("kaiser", 10.0))
    cut = fftconvolve(samples, low_pass[:, None], "same", axes=0)
    assert "format" in {each.kind for each in found_between(samples, cut)}


@pytest.mark.parametrize(("step_db", "beyond"), [(23, True), (17, False)])
def test_bandwidth_at_its_limit(real: dict[str, Clip], step_db: float, beyond: bool) -> None:
    """A shelf within a twelfth of an octave; the limit is 20 dB in a sixth."""
    samples = real["drums"].samples
    size = 1 << (len(samples) - 1).bit_length()
    place = np.clip(np.log2(np.maximum(np.fft.rfftfreq(size, 1 / RATE_HZ), 1) / 8000) * 12, 0, 1)
    spectrum = np.fft.rfft(samples, size, axis=0) * decibels(-step_db) ** place[:, None]
    shelved = np.fft.irfft(spectrum, size, axis=0)[: len(samples)]
    wall = production.wall(Clip(samples, RATE_HZ), Clip(shelved, RATE_HZ))
    assert wall is not None
    assert wall.depth_db == pytest.approx(step_db, abs=1.5)
    assert wall.at_hz == pytest.approx(8000, rel=0.15)
    assert ("format" in {each.kind for each in found_between(samples, shelved)}) == beyond


def test_the_end_of_a_44_100_hz_recording_is_no_bandwidth(real: dict[str, Clip]) -> None:
    """Nobody hears what is lost beyond 20 kHz."""
    samples = real["strings"].samples
    there_and_back = resample_poly(resample_poly(samples, 147, 160, axis=0), 160, 147, axis=0)[: len(samples)]
    assert found_between(samples, there_and_back) == []


@pytest.mark.parametrize(("kept", "count"), [(24, 0), (20, 0), (19, 1), (16, 1)])
@pytest.mark.parametrize("swapped", [False, True])
def test_word_length(tmp_path: Path, kept: int, count: int, swapped: bool) -> None:
    """A 24-bit file in which only some of the bits are in use."""
    whole = reading.read(tracks.path("strings"), 0, 3 * RATE_HZ)
    short = Clip(np.rint(whole.samples * 2 ** (kept - 1)) / 2 ** (kept - 1), RATE_HZ)
    clips = {"one": whole, "two": short}
    for name, clip in clips.items():
        writing.write(tmp_path / f"{name}.wav", clip, dither=False)
    names = ("two", "one") if swapped else ("one", "two")
    infos = {name: reading.inspect(tmp_path / f"{name}.wav") for name in names}
    assert [production.word_length(infos[name]) for name in ("one", "two")] == [24, kept]
    found = inspection.inspect("p", {name: clips[name] for name in names}, infos)
    assert [(each.kind, each.measured, each.unit) for each in found] == [
        ("format", (24 - kept) if swapped else (kept - 24), "bits")
    ] * count


def test_another_rate_of_the_files_is_found(real: dict[str, Clip], tmp_path: Path) -> None:
    samples = real["strings"].samples
    for name, rate_hz in (("one", RATE_HZ), ("two", 44_100)):
        writing.write(tmp_path / f"{name}.wav", Clip(samples, rate_hz))
    one, two = (reading.inspect(tmp_path / f"{name}.wav") for name in ("one", "two"))
    bits = production.word_length(one), production.word_length(two)
    assert [each.measured for each in production.source_files("p", "two", one, two, bits)] == [-3900]
