"""Passages suggested in a minute of music whose telling stretch is planted."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.fft import next_fast_len

from audio import passages
from audio.clip import Clip, Samples
from audio.errors import MeasureError, PassageError
from audio.files import reading
from demo_tracks import tracks

RATE = 48_000


def suggest(clips: Mapping[str, Clip], **wish: Any) -> tuple[passages.Proposal, ...]:
    return passages.survey(clips, passages.Wish(**wish)).proposals


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
    """Wherever it lies, whichever setup has more, the first or the second in turn: most of the proposal is in it."""
    clips = {"one": minute, "two": lifted(minute, start_s, end_s, gain_db)}
    lifted_first = (gain_db > 0) == (start_s == 20)
    (found,) = suggest({name: clips[name] for name in (("two", "one") if lifted_first else ("one", "two"))})
    start, end = span_s(found)
    assert 10 <= end - start <= 20
    inside = min(end, end_s) - max(start, start_s)
    assert inside > 0.85 * (end - start)
    assert found.difference_sone > 1.5


def test_a_mere_difference_of_level_tells_nothing(minute: Clip) -> None:
    (found,) = suggest({"one": minute, "two": Clip(0.4 * minute.samples, RATE)})
    assert found.difference_sone == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("length_s", [(10.0, 20.0), (5.0, 8.0), (10.0, 10.0), (1.0, 2.0), (30.0, 45.0)])
def test_lengths_keep_their_bounds_and_passages_do_not_overlap(minute: Clip, length_s: tuple[float, float]) -> None:
    found = suggest({"one": minute, "two": lifted(minute, 0, 61)}, length_s=length_s, count=3)
    assert 1 <= len(found) <= 3
    for part in found:
        assert length_s[0] - 1e-9 <= part.frames / RATE <= length_s[1] + passages.HOP_S
        assert part.start_frame >= 0
        assert part.start_frame + part.frames <= minute.frames
    spans = sorted(map(span_s, found))
    assert all(one[1] <= other[0] for one, other in pairwise(spans))
    assert [part.difference_sone for part in found] == sorted((part.difference_sone for part in found), reverse=True)


def test_as_many_as_fit_are_proposed_when_more_are_asked_for(minute: Clip) -> None:
    found = suggest({"one": minute, "two": lifted(minute, 0, 61)}, count=50)
    assert 3 <= len(found) <= 6


def test_cuts_fall_where_the_music_is_quieter_than_around(minute: Clip) -> None:
    """Beats a second apart with pauses: the level at each cut is far below the level within half a second of it."""
    beat = np.zeros(RATE)
    beat[: RATE // 2] = minute.samples[RATE : RATE + RATE // 2, 0]
    music = np.tile(beat, 40)[:, None]
    for start_s in (7.3, 12.9):
        clips = {"one": Clip(music, RATE), "two": lifted(Clip(music, RATE), start_s, start_s + 13)}
        for start, end in [span_s(part) for part in suggest(clips, count=2)]:
            for place in (round(start * RATE), round(end * RATE)):
                if 0 < place < music.shape[0]:
                    assert rms(music[place - 480 : place + 480]) < 0.01 * rms(music[place - RATE // 2 :][:RATE])


def rms(samples: Samples) -> float:
    return float(np.sqrt(np.mean(np.square(samples))))


def test_three_setups_are_told_apart_by_their_farthest_two(minute: Clip) -> None:
    clips = {"one": minute, "two": lifted(minute, 0, 61, 0.5), "three": lifted(minute, 20, 34)}
    (found,) = suggest(clips)
    start, end = span_s(found)
    assert start > 18
    assert end < 36


def test_quiet_stretches_are_not_proposed_however_much_they_differ(minute: Clip) -> None:
    """Half a minute 70 dB down, where alone the setups differ: nobody would hear it."""
    faint = minute.samples.copy()
    faint[: 30 * RATE] *= 10 ** (-70 / 20)
    clip = Clip(faint, RATE)
    (found,) = suggest({"one": clip, "two": lifted(clip, 0, 28)})
    assert found.start_frame + found.frames > 30 * RATE


def test_a_band_that_falls_silent_after_minutes_of_sound_is_no_difference() -> None:
    """Five minutes of a full-scale low tone, then nothing below 1 kHz: the long sum must not be lost in rounding."""
    rate_hz = 8000
    times = np.arange(330 * rate_hz) / rate_hz
    low = 0.99 * np.sin(2 * np.pi * 100 * times) * (times < 300)
    high = 0.5 * np.sin(2 * np.pi * 1000 * times) * (times >= 300)
    clip = Clip((low + high)[:, None], rate_hz)
    (found,) = suggest({"one": clip, "two": Clip(0.9 * clip.samples, rate_hz)})
    assert found.difference_sone == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 44_100, 96_000])
def test_any_rate_and_a_shorter_recording_of_one_setup(rate_hz: int) -> None:
    """The shorter one sets how far the passages go."""
    rng = np.random.default_rng(8)
    noise = Clip(rng.normal(0, 0.05, (25 * rate_hz, 1)), rate_hz)
    other = Clip(lifted(noise, 5, 18).samples[: round(21.3 * rate_hz)], rate_hz)
    (found,) = suggest({"one": noise, "two": other})
    start, end = span_s(found, rate_hz)
    assert min(end, 18) - max(start, 5) > 0.8 * (end - start)
    assert end <= 21.3


@pytest.mark.parametrize("seconds", [1.0, 4.2, 10.0])
def test_a_track_no_longer_than_the_shortest_is_proposed_whole(minute: Clip, seconds: float) -> None:
    short = Clip(minute.samples[: round(seconds * RATE)], RATE)
    (found,) = suggest({"one": short, "two": lifted(short, 0, seconds)})
    assert (found.start_frame, found.frames) == (0, short.frames)


def test_a_track_that_cannot_be_compared_is_refused(minute: Clip) -> None:
    silent = Clip(np.zeros((12 * RATE, 2)), RATE)
    with pytest.raises(PassageError, match="silent in setup 'one'; choose another"):
        suggest({"one": silent, "two": minute})
    with pytest.raises(PassageError, match="silent in setup 'two'; choose another"):
        suggest({"one": minute, "two": silent})
    short = Clip(minute.samples[: RATE - 480], RATE)
    with pytest.raises(PassageError, match=r"0\.99 s long; at least 1 s are needed"):
        suggest({"one": minute, "two": short})
    with pytest.raises(MeasureError, match="two or more setups at one sample rate"):
        suggest({"one": minute, "two": Clip(minute.samples, 44_100)})
    with pytest.raises(MeasureError, match="two or more setups"):
        suggest({})
    bad = minute.samples.copy()
    bad[5] = np.nan
    with pytest.raises(MeasureError, match="not numbers"):
        suggest({"one": minute, "two": Clip(bad, RATE)})


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
        suggest({"one": minute, "two": minute}, length_s=length_s, count=count)


COARSE_HZ = 24_000  # holds the bands planted
LOW_HZ = (100.0, 2000.0)
HIGH_HZ = (6000.0, 10_000.0)


@cache
def strokes(length_s: float, band_hz: tuple[float, float], seed: int) -> Samples:
    """Noise of a band in strokes half a second apart, each 0.3 s long, with pauses between; RMS 0.1 in a stroke."""
    rng = np.random.default_rng(seed)
    frames = round(length_s * COARSE_HZ)
    spectrum = np.fft.rfft(rng.normal(size=frames))
    freqs = np.fft.rfftfreq(frames, 1 / COARSE_HZ)
    spectrum[(freqs < band_hz[0]) | (freqs > band_hz[1])] = 0
    noise = np.fft.irfft(spectrum, frames)
    sounding = (np.arange(frames) / COARSE_HZ) % 0.5 < 0.3
    strength = np.repeat(rng.uniform(0.4, 1.0, round(2 * length_s)), COARSE_HZ // 2)
    return (0.1 * noise / noise.std() * sounding * strength)[:, None]


def banded(high_db: Mapping[tuple[float, float], tuple[float, float]], length_s: float = 80) -> dict[str, Clip]:
    """Two loudspeakers that differ in one band only.

    For each stretch: the music's level in that band against the rest, and how much more of it one of the two gives.
    """
    low, high = strokes(length_s, LOW_HZ, 1), strokes(length_s, HIGH_HZ, 2)
    one, other = low.copy(), low.copy()
    for (start_s, end_s), (level_db, more_db) in high_db.items():
        part = slice(round(start_s * COARSE_HZ), round(end_s * COARSE_HZ))
        one[part] += 10 ** (level_db / 20) * high[part]
        other[part] += 10 ** ((level_db + more_db) / 20) * high[part]
    return {"one": Clip(one, COARSE_HZ), "two": Clip(other, COARSE_HZ)}


def faded(clips: Mapping[str, Clip], start_s: float, end_s: float, gain_db: float) -> dict[str, Clip]:
    made = {}
    for name, clip in clips.items():
        samples = clip.samples.copy()
        samples[round(start_s * COARSE_HZ) : round(end_s * COARSE_HZ)] *= 10 ** (gain_db / 20)
        made[name] = Clip(samples, COARSE_HZ)
    return made


def lies_inside(part: passages.Proposal, start_s: float, end_s: float) -> bool:
    start, end = span_s(part, COARSE_HZ)
    return min(end, end_s) - max(start, start_s) > 0.85 * (end - start)


def test_a_difference_that_is_heard_comes_before_a_larger_one_41_db_down_and_before_silence() -> None:
    """5 dB where the band sounds with the rest; 15 dB in it where all the music is 41 dB down; then nothing sounds."""
    clips = banded({(15, 32): (-6.0, 5.0), (45, 62): (-6.0, 15.0), (65, 80): (-6.0, 15.0)})
    clips = faded(faded(clips, 44, 63, -41), 64, 80, -200)
    found = suggest(clips, count=2)
    assert lies_inside(found[0], 15, 32)
    assert all(span_s(part, COARSE_HZ)[1] < 44 for part in found)


def test_a_difference_that_the_rest_of_the_music_hides_comes_after_one_that_is_heard() -> None:
    """3 dB in a band as strong as the rest, against 12 dB in one that stays 65 dB below it."""
    found = suggest(banded({(15, 32): (-6.0, 3.0), (45, 62): (-65.0, 12.0)}))
    assert lies_inside(found[0], 15, 32)


def test_no_edge_is_proposed_that_only_a_jump_or_a_hole_made() -> None:
    """One recording skips 0.35 s in the middle, and falls silent for 2 s early on: what is heard lies between."""
    clips = banded({(15, 32): (-6.0, 2.0)})
    samples = clips["two"].samples.copy()
    samples[40 * COARSE_HZ :] = np.concatenate(
        [samples[round(40.35 * COARSE_HZ) :], samples[: round(0.35 * COARSE_HZ)]]
    )
    samples[5 * COARSE_HZ : 7 * COARSE_HZ] = 0
    found = passages.survey({"one": clips["one"], "two": Clip(samples, COARSE_HZ)}, passages.Wish(count=3))
    assert lies_inside(found.proposals[0], 14, 33)
    for part in found.proposals:
        start, end = span_s(part, COARSE_HZ)
        assert start > 6.9
        assert end < 40.5
    assert len(found.skipped_s) == 2
    (silence,) = found.silences  # told of the whole track, wherever the passages lie
    assert silence.setup == "two"
    assert (silence.begin_s, silence.end_s) == pytest.approx((5, 7), abs=0.25)
    assert found.skipped_s[1][0] == pytest.approx(40, abs=2.5)


def test_a_few_hundredths_of_a_second_apart_make_no_difference() -> None:
    """50 ms at the edge of a stroke are tens of decibels for a moment; loudness over seconds knows little of it."""
    clips = banded({(15, 32): (-6.0, 2.0)})
    late = {"one": clips["one"], "two": Clip(np.roll(clips["two"].samples, 1200, axis=0), COARSE_HZ)}
    assert lies_inside(suggest(late)[0], 14, 33)


def test_a_moment_that_matters_has_a_passage_around_it_beside_the_most_telling_one() -> None:
    clips = banded({(15, 32): (-6.0, 5.0)})
    telling, marked = suggest(clips, around_s=(58.0, 61.5))
    assert (telling.telling, telling.marks_s, lies_inside(telling, 15, 32)) == (True, (), True)
    assert (marked.telling, marked.marks_s) == (False, (58.0, 61.5))
    start, end = span_s(marked, COARSE_HZ)
    assert 10 <= end - start <= 20
    assert start <= 56
    assert end >= 62.5
    for place in (marked.start_frame, marked.start_frame + marked.frames):
        assert rms(clips["one"].samples[place - 240 : place + 240]) < 0.001


def test_a_moment_in_the_most_telling_passage_is_held_by_it_and_one_at_the_end_has_the_end() -> None:
    clips = banded({(15, 32): (-6.0, 5.0)})
    middle_s = sum(span_s(suggest(clips)[0], COARSE_HZ)) / 2
    (both,) = suggest(clips, around_s=(middle_s,))
    assert (both.telling, both.marks_s) == (True, (middle_s,))
    _, last = suggest(clips, around_s=(79.5,))
    assert last.start_frame + last.frames == 80 * COARSE_HZ
    _, faint = suggest(faded(clips, 44, 63, -50), around_s=(52.0,))  # however quiet: it was asked for
    assert span_s(faint, COARSE_HZ)[0] < 50 < 54 < span_s(faint, COARSE_HZ)[1]


def test_a_moment_in_a_silence_of_one_has_the_nearest_passage_and_one_close_to_it_is_held_all_the_same() -> None:
    clips = banded({(15, 32): (-6.0, 5.0)})
    samples = clips["two"].samples.copy()
    samples[60 * COARSE_HZ : 63 * COARSE_HZ] = 0
    holed = {"one": clips["one"], "two": Clip(samples, COARSE_HZ)}
    _, missed = suggest(holed, around_s=(62.0,))
    start, end = span_s(missed, COARSE_HZ)
    assert not start <= 62 <= end
    assert min(abs(start - 62), abs(end - 62)) < 3
    for close_s in (58.5, 64.5):  # less than the 2 s to be heard before and after it are left
        _, held = suggest(holed, around_s=(close_s,))
        start, end = span_s(held, COARSE_HZ)
        assert start <= close_s <= end


def test_a_moment_outside_the_track_is_refused(minute: Clip) -> None:
    with pytest.raises(PassageError, match=r"the moment 61\.50 s lies outside .*; choose one from 0 to 61\.00 s"):
        suggest({"one": minute, "two": minute}, around_s=(61.5,))


def test_the_curve_along_the_track_is_measured_as_the_proposals_are() -> None:
    """A stretch as long as the shortest, about a moment: the very same number."""
    clips = banded({(15, 32): (-6.0, 5.0)})
    found = passages.survey(clips, passages.Wish(length_s=(10.0, 10.0)))
    (part,) = found.proposals
    middle_s = sum(span_s(part, COARSE_HZ)) / 2 - passages.WINDOW_S / 2
    at = np.interp(middle_s, found.moments_s, found.differences_sone)
    assert part.difference_sone == pytest.approx(at, rel=0.03)
    assert found.differences_sone.max() == pytest.approx(part.difference_sone, rel=0.1)
    assert found.levels_db.shape == found.moments_s.shape
    assert abs(float(np.median(found.levels_db))) < 3
