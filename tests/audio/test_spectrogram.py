"""Band levels of sound that comes in blocks are those of the whole, window by window."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from audio import passages
from audio.clip import Clip
from audio.mend import Mend, read_mended
from audio.passages import FilePart
from audio.resample import resample
from audio.spectrogram import FLOOR, band_powers, powers_at, steps_in, streamed_band_powers
from demo_tracks import tracks

EDGES = (100.0, 400.0, 1600.0, 6400.0, 12800.0)


def plain(samples: np.ndarray, rate_hz: int, start: int, window: int) -> np.ndarray:
    """One step by the definition: Hann window, power of each band, silence beyond the ends."""
    frames = np.arange(start, start + window)
    inside = (frames >= 0) & (frames < len(samples))
    taken = np.where(inside[:, None], samples[np.clip(frames, 0, len(samples) - 1)], 0.0)
    power = np.sum(np.abs(np.fft.rfft(taken * np.hanning(window)[:, None], axis=0)) ** 2, axis=1) / window**2
    freqs = np.fft.rfftfreq(window, 1 / rate_hz)
    bands = pairwise(EDGES)
    return np.maximum([power[(freqs >= low) & (freqs < high)].sum() for low, high in bands], FLOOR)


@given(
    data=st.data(),
    frames=st.integers(1, 9000),
    rate_hz=st.sampled_from([11_025, 44_100]),
    first=st.floats(-3000, 3000),
    ppm=st.sampled_from([0.0, 300.0]),
)
@settings(deadline=None, max_examples=40)
def test_any_blocks_give_every_window_of_the_whole(
    data: st.DataObject, frames: int, rate_hz: int, first: float, ppm: float
) -> None:
    samples = np.random.default_rng(frames).uniform(-1, 1, (frames, 2))
    cuts = sorted(data.draw(st.lists(st.integers(0, frames), max_size=5)))
    blocks = np.split(samples, cuts)
    hop_s, steps, window = 0.02 * (1 + ppm * 1e-6), data.draw(st.integers(1, 30)), round(0.04 * rate_hz)
    found = streamed_band_powers(blocks, rate_hz, EDGES, hop_s, 0.04, steps, first_frame=first)
    starts = [round(first + step * hop_s * rate_hz) for step in range(steps)]
    expected = [plain(samples, rate_hz, start, window) for start in starts]
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-13)


def test_coarse_powers_are_those_of_64_bits_within_a_thousandth_of_a_db_down_to_60_db_below_the_loudest() -> None:
    rate_hz, window = 48_000, 1920
    bass = 0.9 * np.sin(2 * np.pi * 150 * np.arange(rate_hz) / rate_hz)[:, None]
    samples = bass + 0.9e-3 * np.random.default_rng(5).uniform(-1, 1, (rate_hz, 2))
    starts = np.arange(0, rate_hz - window, 960)
    found = powers_at([samples[:20_000], samples[20_000:]], rate_hz, EDGES, starts, window, coarse=True)
    expected = np.array([plain(samples, rate_hz, int(start), window) for start in starts])
    assert 10 * np.log10(expected[:, 0].mean() / expected[:, 1:].mean()) > 60
    np.testing.assert_allclose(10 * np.log10(found), 10 * np.log10(expected), rtol=0, atol=0.001)


def test_a_clip_has_the_steps_that_lie_inside_it() -> None:
    clip = Clip(np.random.default_rng(1).uniform(-1, 1, (44_100, 1)), 44_100)
    found = band_powers(clip, EDGES, 0.02, 0.04)
    assert len(found) == steps_in(44_100, 44_100, 0.02, 0.04) == 49
    np.testing.assert_allclose(found[48], plain(clip.samples, 44_100, 48 * 882, 1764), rtol=1e-9)


@pytest.fixture(scope="module")
def minute() -> Clip:
    pieces = [soundfile.read(tracks.path(track.name), always_2d=True)[0] for track in tracks.TRACKS]
    return Clip(np.concatenate(pieces), 48_000)


@pytest.mark.parametrize(("rate_hz", "suffix"), [(48_000, ".flac"), (44_100, ".wav"), (96_000, ".wav")])
def test_files_give_the_proposals_of_their_clips(minute: Clip, tmp_path: Path, rate_hz: int, suffix: str) -> None:
    other = minute.samples.copy()
    other[25 * 48_000 : 40 * 48_000] = np.diff(other[25 * 48_000 - 1 : 40 * 48_000], axis=0) * 4  # brighter for 15 s
    one, two = tmp_path / "one.flac", tmp_path / f"two{suffix}"
    soundfile.write(one, minute.samples, 48_000)
    brought = resample(Clip(other, 48_000), rate_hz)
    soundfile.write(two, brought.samples, rate_hz)
    frames = min(minute.frames, brought.frames * 48_000 // rate_hz)
    parts = {"one": FilePart(one), "two": FilePart(two)}
    found = passages.survey_files(parts, frames, 48_000, passages.Wish(count=2)).proposals
    clips = {name: read_mended(part.path, 0, frames, 48_000, 48_000) for name, part in parts.items()}
    expected = passages.survey(clips, passages.Wish(count=2)).proposals
    assert [(part.start_frame, part.frames) for part in found] == [(p.start_frame, p.frames) for p in expected]
    np.testing.assert_allclose(
        [part.difference_sone for part in found], [p.difference_sone for p in expected], rtol=0, atol=0.02
    )


def test_a_late_recording_is_looked_at_where_it_is_mended(minute: Clip, tmp_path: Path) -> None:
    late = np.concatenate([np.zeros((30_000, 2)), minute.samples])
    soundfile.write(tmp_path / "one.flac", minute.samples, 48_000)
    soundfile.write(tmp_path / "two.flac", late, 48_000)
    parts = {
        "one": FilePart(tmp_path / "one.flac", 4800),
        "two": FilePart(tmp_path / "two.flac", 4800, Mend(delay_s=30_000 / 48_000)),
    }
    (found,) = passages.survey_files(parts, minute.frames - 4800, 48_000).proposals
    assert found.difference_sone == pytest.approx(0, abs=1e-6)
    parts["two"] = FilePart(tmp_path / "two.flac", 4800)
    (found,) = passages.survey_files(parts, minute.frames - 4800, 48_000).proposals
    assert found.difference_sone > 0.5


def test_a_long_track_takes_the_memory_of_its_windows(tmp_path: Path) -> None:
    block = np.random.default_rng(4).uniform(-0.5, 0.5, (96_000, 2))
    for name in ("one.wav", "two.wav"):
        with soundfile.SoundFile(tmp_path / name, "w", 96_000, 2, "PCM_16") as file:
            for second in range(60):
                file.write(block * (0.2 + 0.1 * (second % 5)))
    parts = {name: FilePart(tmp_path / f"{name}.wav") for name in ("one", "two")}
    tracemalloc.start()
    passages.survey_files(parts, 60 * 96_000, 96_000)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 45e6  # a minute alone would be 92 MB as samples, for each file
