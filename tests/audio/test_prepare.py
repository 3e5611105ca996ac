"""Prepared passages, read from disk and measured again: under the ceiling, equally loud, whole in every channel."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from audio import match, prepare
from audio.clip import Clip
from audio.errors import FileError, PassageError
from audio.files import reading
from audio.levels.true_peak import true_peak_db
from demo_tracks import loudspeakers, tracks

RATE = 48_000
SPEAKERS = tuple(loudspeakers.LOUDSPEAKERS)


def hot(piece: str, start_s: int, seconds: int = 2) -> dict[str, Clip]:
    """A piece through each loudspeaker, every one driven to the last step below full scale."""
    whole = reading.read(tracks.path(piece), start_s * RATE, seconds * RATE).samples
    clips = {}
    for speaker in SPEAKERS:
        played = loudspeakers.render(speaker, whole, RATE)
        clips[speaker] = Clip(played * 0.9999 / np.abs(played).max(), RATE)
    return clips


def plain_lufs(clip: Clip) -> float:
    """pyloudnorm alone, its data trimmed to whole steps: it counts an incomplete last block as a full one."""
    step = clip.rate_hz // 10
    kept = clip.frames // step * step
    meter = pyloudnorm.Meter(clip.rate_hz, filter_class="DeMan")
    return float(meter.integrated_loudness(clip.samples[:kept]))


@pytest.mark.parametrize("piece", [track.name for track in tracks.TRACKS])
def test_no_true_peak_is_over_the_ceiling_not_even_by_the_dither(tmp_path: Path, piece: str) -> None:
    """EBU R 128: at most -1 dBTP, on the file that is played, after its rounding to 24 bits."""
    for start_s in (0, 4, 8):
        found, paths = prepare.prepare("p", hot(piece, start_s), tmp_path, seed=bytes([start_s]))
        peaks = {name: true_peak_db(reading.read(path).samples, RATE) for name, path in paths.items()}
        for own in found.setups:
            peak = peaks[own.setup]
            assert peak is not None
            assert peak <= -1.0
            assert own.true_peak_dbtp == pytest.approx(peak, abs=1e-9)
            assert own.gain_db < 0
        assert max(own.true_peak_dbtp for own in found.setups) > -1.01  # and no quieter than it must be


@pytest.mark.parametrize("seconds", [1.0, 1.27, 3.456])
def test_lengths_that_are_no_whole_blocks_are_equally_loud_by_another_meter(tmp_path: Path, seconds: float) -> None:
    clips = {name: Clip(clip.samples[: round(seconds * RATE)], RATE) for name, clip in hot("strings", 1, 4).items()}
    found, paths = prepare.prepare("p", clips, tmp_path, seed=b"s")
    assert np.ptp([plain_lufs(reading.read(path)) for path in paths.values()]) <= 0.02
    assert found.residual_lu <= 0.005


def test_surround_is_matched_by_the_weights_of_its_channels(tmp_path: Path) -> None:
    """5.0 with something else in every channel: pyloudnorm weighs L R C Ls Rs as BS.1770-5 does."""
    pieces = [reading.read(tracks.path(name), RATE, 3 * RATE).samples for name in ("strings", "drums", "voice")]
    five = np.concatenate(pieces, axis=1)[:, :5]
    clips = {
        name: Clip(loudspeakers.render(name, five, RATE) * gain, RATE)
        for name, gain in zip(SPEAKERS, (1, 0.6, 0.8), strict=True)
    }
    found, paths = prepare.prepare("p", clips, tmp_path, seed=b"s")
    levels = {name: plain_lufs(reading.read(path)) for name, path in paths.items()}
    assert np.ptp(list(levels.values())) <= 0.02
    for own in found.setups:
        assert own.after_lufs == pytest.approx(levels[own.setup], abs=0.02)
        assert len(own.channel_after_db) == 5


def test_gains_are_what_was_done_to_the_samples(tmp_path: Path) -> None:
    """Least squares of what is on disk on what went in, past the fades: the stated gain, and nothing but rounding."""
    clips = hot("voice", 4)
    clips["bracken"] = Clip(0.3 * clips["bracken"].samples, RATE)
    found, paths = prepare.prepare("p", clips, tmp_path, seed=b"s")
    inner = slice(RATE // 100, -RATE // 100)
    for own in found.setups:
        before, after = clips[own.setup].samples[inner], reading.read(paths[own.setup]).samples[inner]
        gain = np.sum(before * after) / np.sum(np.square(before))
        assert 20 * np.log10(gain) == pytest.approx(own.gain_db, abs=1e-4)
        np.testing.assert_allclose(after, gain * before, rtol=0, atol=2 * 2.0**-23)  # rounding and triangular dither


def test_twins_differ_in_name_alone_and_a_sheet_says_zero(tmp_path: Path) -> None:
    clip = hot("drums", 0)["sallow"]
    found, paths = prepare.prepare("p", {"one": clip, "two": clip}, tmp_path, seed=b"s")
    assert paths["one"].name != paths["two"].name
    assert paths["one"].read_bytes() == paths["two"].read_bytes()
    assert (found.residual_lu, found.channel_residual_lu) == (0.0, 0.0)
    assert found.uncertainty_lu == pytest.approx(0.01)  # 2 * 0.005: the meter's repeatability and the rounding


def test_every_two_setups_have_an_uncertainty(tmp_path: Path) -> None:
    found, _ = prepare.prepare("first", hot("voice", 0), tmp_path, by="c", seed=b"s")
    assert list(found.uncertainties_lu) == [
        ("sallow", "bracken"), ("sallow", "sallow-late"), ("bracken", "sallow-late"),
    ]  # fmt: skip
    assert found.uncertainty_lu == max(found.uncertainties_lu.values())


def test_a_channel_silent_in_one_setup_only_has_no_residual() -> None:
    assert match.channel_residual({"a": (-20.0, None), "b": (-20.5, None)}) == pytest.approx(0.5)
    assert match.channel_residual({"a": (-20.0, -30.0), "b": (-20.1, None)}) is None
    assert match.channel_residual({"a": (-20.0, -30.0), "b": (-20.1, -30.7), "c": (-19.9, -30.2)}) == pytest.approx(0.7)


def test_nothing_is_written_for_a_passage_that_is_refused(tmp_path: Path) -> None:
    clips = hot("voice", 0)
    clips["sallow-late"] = Clip(np.zeros_like(clips["sallow"].samples), RATE)
    with pytest.raises(PassageError, match=r"'p' is silent .* in setup 'sallow-late'; choose another"):
        prepare.prepare("p", clips, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="nowhere"):
        prepare.prepare("p", hot("voice", 0), tmp_path / "nowhere")
