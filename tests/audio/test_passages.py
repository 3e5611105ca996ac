"""Passages suggested in a minute of music whose telling stretch is planted."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.fft import next_fast_len

from audio import passages
from audio.clip import Clip, Samples
from audio.errors import MeasureError, PassageError
from audio.files import reading
from demo_tracks import tracks

RATE = 48_000


@pytest.fixture(scope="module")
def minute() -> Clip:
    """All demo pieces in a row: a minute."""
    return Clip(np.concatenate([reading.read(tracks.path(track.name)).samples for track in tracks.TRACKS]), RATE)


def lifted(clip: Clip, start_s: float, end_s: float, gain_db: float = 8.0) -> Clip:
    """More in the octave about 3 kHz between two times: a band raised in the spectrum of that stretch alone."""
    samples = clip.samples.copy()
    part = slice(round(start_s * clip.rate_hz), round(end_s * clip.rate_hz))
    frames = samples[part].shape[0]
    size = next_fast_len(frames, real=True)
    spectrum = np.fft.rfft(samples[part], size, axis=0)
    freqs = np.fft.rfftfreq(size, 1 / clip.rate_hz)
    spectrum[(freqs > 2121) & (freqs < 4243)] *= 10 ** (gain_db / 20)
    samples[part] = np.fft.irfft(spectrum, size, axis=0)[:frames]
    return Clip(samples, clip.rate_hz)


def span_s(part: passages.Proposal, rate_hz: int = RATE) -> tuple[float, float]:
    return part.start_frame / rate_hz, (part.start_frame + part.frames) / rate_hz


@pytest.mark.parametrize("gain_db", [8.0, -8.0])
@pytest.mark.parametrize(("start_s", "end_s"), [(20, 34), (0, 14), (46, 61)])
def test_the_stretch_where_setups_differ_is_found(minute: Clip, start_s: float, end_s: float, gain_db: float) -> None:
    """Wherever it lies, whichever setup has more: most of the passage proposed lies inside it."""
    clips = {"one": minute, "two": lifted(minute, start_s, end_s, gain_db)}
    for order in (("one", "two"), ("two", "one")):
        (found,) = passages.suggest({name: clips[name] for name in order})
        start, end = span_s(found)
        assert 10 <= end - start <= 20
        inside = min(end, end_s) - max(start, start_s)
        assert inside > 0.85 * (end - start)
        assert found.difference_db > 1.5


def test_a_mere_difference_of_level_tells_nothing(minute: Clip) -> None:
    (found,) = passages.suggest({"one": minute, "two": Clip(0.4 * minute.samples, RATE)})
    assert found.difference_db == pytest.approx(0, abs=1e-6)


def test_the_difference_is_that_of_third_octave_levels() -> None:
    """White noise against itself, 6 dB down in every second third: RMS 3 dB about its mean, where all bands count.

    A-weighting lowers bands at the ends, so that those count less; noise that is +3 and -3 dB by turns gives close to
    3 dB for any weights.
    """
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 0.05, (15 * RATE, 1))
    freqs = np.fft.rfftfreq(noise.shape[0], 1 / RATE)
    third = np.round(10 * np.log10(np.maximum(freqs, 1) / 1000)).astype(int)
    spectrum = np.fft.rfft(noise, axis=0) * np.where(third % 2 == 0, 1, 10 ** (-6 / 20))[:, None]
    other = np.fft.irfft(spectrum, noise.shape[0], axis=0)
    (found,) = passages.suggest({"one": Clip(noise, RATE), "two": Clip(other, RATE)})
    assert found.difference_db == pytest.approx(3.0, abs=0.25)


@pytest.mark.parametrize("length_s", [(10.0, 20.0), (5.0, 8.0), (10.0, 10.0), (1.0, 2.0), (30.0, 45.0)])
def test_lengths_keep_their_bounds_and_passages_do_not_overlap(minute: Clip, length_s: tuple[float, float]) -> None:
    found = passages.suggest({"one": minute, "two": lifted(minute, 0, 61)}, length_s=length_s, count=3)
    assert 1 <= len(found) <= 3
    for part in found:
        assert length_s[0] - 1e-9 <= part.frames / RATE <= length_s[1] + passages.HOP_S
        assert part.start_frame >= 0
        assert part.start_frame + part.frames <= minute.frames
    spans = sorted(map(span_s, found))
    assert all(one[1] <= other[0] for one, other in pairwise(spans))
    assert [part.difference_db for part in found] == sorted((part.difference_db for part in found), reverse=True)


def test_as_many_as_fit_are_proposed_when_more_are_asked_for(minute: Clip) -> None:
    found = passages.suggest({"one": minute, "two": lifted(minute, 0, 61)}, count=50)
    assert 3 <= len(found) <= 6


def test_cuts_fall_where_the_music_is_quieter_than_around(minute: Clip) -> None:
    """Beats a second apart with pauses: the level at each cut is far below the level within half a second of it."""
    beat = np.zeros(RATE)
    beat[: RATE // 2] = minute.samples[RATE : RATE + RATE // 2, 0]
    music = np.tile(beat, 40)[:, None]
    for start_s in (7.3, 12.9):
        clips = {"one": Clip(music, RATE), "two": lifted(Clip(music, RATE), start_s, start_s + 13)}
        for start, end in [span_s(part) for part in passages.suggest(clips, count=2)]:
            for place in (round(start * RATE), round(end * RATE)):
                if 0 < place < music.shape[0]:
                    assert rms(music[place - 480 : place + 480]) < 0.01 * rms(music[place - RATE // 2 :][:RATE])


def rms(samples: Samples) -> float:
    return float(np.sqrt(np.mean(np.square(samples))))


def test_three_setups_are_told_apart_by_their_farthest_two(minute: Clip) -> None:
    clips = {"one": minute, "two": lifted(minute, 0, 61, 0.5), "three": lifted(minute, 20, 34)}
    (found,) = passages.suggest(clips)
    start, end = span_s(found)
    assert start > 18
    assert end < 36


def test_quiet_stretches_are_not_proposed_however_much_they_differ(minute: Clip) -> None:
    """Half a minute 70 dB down, where alone the setups differ: nobody would hear it."""
    faint = minute.samples.copy()
    faint[: 30 * RATE] *= 10 ** (-70 / 20)
    clip = Clip(faint, RATE)
    (found,) = passages.suggest({"one": clip, "two": lifted(clip, 0, 28)})
    assert found.start_frame + found.frames > 30 * RATE


def test_a_band_that_falls_silent_after_minutes_of_sound_is_no_difference() -> None:
    """Five minutes of a full-scale low tone, then nothing below 1 kHz: the long sum must not be lost in rounding."""
    rate_hz = 8000
    times = np.arange(330 * rate_hz) / rate_hz
    low = 0.99 * np.sin(2 * np.pi * 100 * times) * (times < 300)
    high = 0.5 * np.sin(2 * np.pi * 1000 * times) * (times >= 300)
    clip = Clip((low + high)[:, None], rate_hz)
    (found,) = passages.suggest({"one": clip, "two": Clip(0.9 * clip.samples, rate_hz)})
    assert found.difference_db == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 44_100, 96_000])
def test_any_rate_and_a_shorter_recording_of_one_setup(rate_hz: int) -> None:
    """The shorter one sets how far the passages go."""
    rng = np.random.default_rng(8)
    noise = Clip(rng.normal(0, 0.05, (25 * rate_hz, 1)), rate_hz)
    other = Clip(lifted(noise, 5, 18).samples[: round(21.3 * rate_hz)], rate_hz)
    (found,) = passages.suggest({"one": noise, "two": other})
    start, end = span_s(found, rate_hz)
    assert min(end, 18) - max(start, 5) > 0.85 * (end - start)
    assert end <= 21.3


@pytest.mark.parametrize("seconds", [1.0, 4.2, 10.0])
def test_a_track_no_longer_than_the_shortest_is_proposed_whole(minute: Clip, seconds: float) -> None:
    short = Clip(minute.samples[: round(seconds * RATE)], RATE)
    (found,) = passages.suggest({"one": short, "two": lifted(short, 0, seconds)})
    assert (found.start_frame, found.frames) == (0, short.frames)


def test_a_track_that_cannot_be_compared_is_refused(minute: Clip) -> None:
    silent = Clip(np.zeros((12 * RATE, 2)), RATE)
    with pytest.raises(PassageError, match="silent in setup 'one'; choose another"):
        passages.suggest({"one": silent, "two": minute})
    with pytest.raises(PassageError, match="silent in setup 'two'; choose another"):
        passages.suggest({"one": minute, "two": silent})
    short = Clip(minute.samples[: RATE - 480], RATE)
    with pytest.raises(PassageError, match=r"0\.99 s long; at least 1 s are needed"):
        passages.suggest({"one": minute, "two": short})
    with pytest.raises(MeasureError, match="two or more setups at one sample rate"):
        passages.suggest({"one": minute, "two": Clip(minute.samples, 44_100)})
    with pytest.raises(MeasureError, match="two or more setups"):
        passages.suggest({})
    bad = minute.samples.copy()
    bad[5] = np.nan
    with pytest.raises(MeasureError, match="not numbers"):
        passages.suggest({"one": minute, "two": Clip(bad, RATE)})


@pytest.mark.parametrize(
    ("length_s", "count", "says"),
    [
        ((20.0, 10.0), 1, "cannot suggest 1 passages of 20 to 10 s"),
        ((0.0, 5.0), 2, "cannot suggest 2 passages of 0 to 5 s"),
        ((float("nan"), 5.0), 1, "of nan to 5 s"),
        ((10.0, 20.0), 0, "cannot suggest 0 passages"),
    ],
)
def test_lengths_and_counts_that_cannot_be_are_refused(
    minute: Clip, length_s: tuple[float, float], count: int, says: str
) -> None:
    with pytest.raises(PassageError, match=says):
        passages.suggest({"one": minute, "two": minute}, length_s=length_s, count=count)
