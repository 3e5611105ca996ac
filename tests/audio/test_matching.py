"""Matching, preparing, choosing passages and pairing files, on real music and real files."""

from __future__ import annotations

import hashlib
import re
import subprocess
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from audio import match, pairing, passages, prepare
from audio.clip import Clip
from audio.errors import MeasureError, PassageError
from audio.files import reading, writing
from audio.levels.true_peak import true_peak_db
from audio.levels.weighting import BY, By, level_db
from demo_tracks import loudspeakers, tracks

RATE = 48_000
SPEAKERS = tuple(loudspeakers.LOUDSPEAKERS)


def played(name: str, speaker: str, seconds: float = 5.0) -> Clip:
    whole = reading.read(tracks.path(name))
    start = whole.samples[RATE : round((1 + seconds) * RATE)]
    return Clip(loudspeakers.render(speaker, start, RATE), RATE)


@pytest.fixture(scope="module")
def clips() -> dict[str, Clip]:
    return {speaker: played("strings", speaker) for speaker in SPEAKERS}


def plain_lufs(clip: Clip) -> float:
    """pyloudnorm alone, on whole steps of its blocks (its last partial block is not the standard's)."""
    import pyloudnorm

    whole = 0.4 + 0.1 * int((clip.length_s - 0.4) / 0.1 + 1e-9)
    samples = clip.samples[: round(whole * clip.rate_hz)]
    return float(pyloudnorm.Meter(clip.rate_hz, filter_class="DeMan").integrated_loudness(samples))


def test_gains_attenuate_and_the_quietest_under_the_ceiling_leads() -> None:
    gains = match.gains_db({"a": -20.0, "b": -23.0, "c": -21.0}, {"a": -6.0, "b": -12.0, "c": 0.5})
    assert gains == pytest.approx({"a": -3.0, "b": 0.0, "c": -2.0})
    # c alone must come down 3.5 dB to obey the ceiling, so all play at -24.5
    gains = match.gains_db({"a": -20.0, "b": -23.0, "c": -21.0}, {"a": -6.0, "b": -12.0, "c": 2.5})
    assert gains == pytest.approx({"a": -4.5, "b": -1.5, "c": -3.5})


@pytest.mark.parametrize("by", BY)
def test_what_is_played_is_equally_loud_in_the_measure_chosen(clips: dict[str, Clip], tmp_path: Path, by: By) -> None:
    found, paths = prepare.prepare("p", clips, tmp_path, by=by, seed=b"s")
    on_disk = {name: reading.read(path) for name, path in paths.items()}
    levels = [level_db(clip, by) for clip in on_disk.values()]
    assert None not in levels
    assert np.ptp(np.array(levels, dtype=float)) < 0.01
    assert found.residual_lu == pytest.approx(np.ptp(np.array(levels, dtype=float)), abs=1e-9)
    for own in found.setups:
        assert own.gain_db <= 0
        peak = true_peak_db(on_disk[own.setup].samples, RATE)
        assert peak is not None
        assert peak == pytest.approx(own.true_peak_dbtp)
        assert peak <= -1.0
    assert max(own.gain_db for own in found.setups) == pytest.approx(0, abs=0.01)


def test_loudness_is_equal_by_other_meters_too(clips: dict[str, Clip], tmp_path: Path) -> None:
    _, paths = prepare.prepare("p", clips, tmp_path, seed=b"s")
    assert np.ptp([plain_lufs(reading.read(path)) for path in paths.values()]) < 0.02
    measured = []
    for path in paths.values():
        command = ["ffmpeg", "-nostats", "-hide_banner", "-i", str(path), "-af", "ebur128", "-f", "null", "-"]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        measured.append(float(re.findall(r"I:\s+(-[\d.]+) LUFS", done.stderr)[-1]))
    assert np.ptp(measured) <= 0.1  # its summary is rounded to 0.1


def test_hot_material_comes_down_to_the_ceiling(clips: dict[str, Clip], tmp_path: Path) -> None:
    hot = {name: Clip(clip.samples * 0.999 / np.abs(clip.samples).max(), RATE) for name, clip in clips.items()}
    found, paths = prepare.prepare("p", hot, tmp_path, seed=b"s")
    peaks = [true_peak_db(reading.read(path).samples, RATE) for path in paths.values()]
    assert all(peak is not None and peak <= -1.0 for peak in peaks)
    assert max(own.true_peak_dbtp for own in found.setups) > -2.5
    assert found.residual_lu < 0.01


def test_names_sizes_and_times_tell_nothing(clips: dict[str, Clip], tmp_path: Path) -> None:
    _, paths = prepare.prepare("p", clips, tmp_path, seed=b"s")
    kept = [path.stat() for path in paths.values()]
    assert len({stat.st_size for stat in kept}) == 1
    assert len({stat.st_mtime for stat in kept}) == 1
    for name, path in paths.items():
        assert re.fullmatch(r"[0-9a-f]{24}\.wav", path.name)
        assert name not in path.name
    assert len(set(paths.values())) == 3


def test_twins_stay_the_same_to_the_last_bit_and_all_can_be_rebuilt(clips: dict[str, Clip], tmp_path: Path) -> None:
    twins = {"one": clips["sallow"], "two": Clip(clips["sallow"].samples.copy(), RATE)}
    _, paths = prepare.prepare("p", twins, tmp_path, seed=b"s")
    assert paths["one"] != paths["two"]
    first = {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in paths.items()}
    assert first["one"] == first["two"]
    _, again = prepare.prepare("p", twins, tmp_path, seed=b"s")
    assert {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in again.items()} == first
    _, other = prepare.prepare("p", twins, tmp_path, seed=b"t")
    assert other["one"] != paths["one"]


def test_passages_fade_in_and_out_alike(clips: dict[str, Clip], tmp_path: Path) -> None:
    """5 ms raised cosine at both ends: half way in, half the amplitude."""
    steady = {
        name: Clip(np.full((2 * RATE, 2), 0.2) * np.sign(np.sin(np.arange(2 * RATE)))[:, None], RATE) for name in "ab"
    }
    _, paths = prepare.prepare("p", steady, tmp_path, seed=b"s")
    samples = np.abs(reading.read(paths["a"]).samples[:, 0])
    full = np.median(samples)
    assert samples[120] == pytest.approx(full / 2, rel=0.02)
    assert samples[0] < 0.001 * full
    assert samples[-120] == pytest.approx(full / 2, rel=0.02)
    assert samples[240] == pytest.approx(full, rel=1e-4)


def test_a_fault_in_one_channel_shows_in_the_channel_residual(clips: dict[str, Clip], tmp_path: Path) -> None:
    tilted = Clip(clips["sallow"].samples * np.array([1, 10 ** (0.7 / 20)]), RATE)
    found, _ = prepare.prepare("p", {"good": clips["sallow"], "tilted": tilted}, tmp_path, seed=b"s")
    assert found.residual_lu < 0.01
    assert found.channel_residual_lu is not None
    assert 0.3 < found.channel_residual_lu < 0.42  # the overall match puts one channel up, the other down


def test_uncertainty_is_the_spread_of_the_moments(clips: dict[str, Clip]) -> None:
    """Its definition once more, from blocks weighed one by one in the A measure."""
    pair = {name: clips[name] for name in ("sallow", "bracken")}
    blocks = []
    from scipy.fft import irfft, rfft, rfftfreq
    from scipy.stats import t as student_t

    from audio.levels.weighting import a_weight_db

    for clip in pair.values():
        gain = np.nan_to_num(10 ** (a_weight_db(rfftfreq(clip.frames, 1 / RATE)) / 20), neginf=0)
        weighted = irfft(rfft(clip.samples, axis=0) * gain[:, None], clip.frames, axis=0)
        count = clip.frames // 19_200
        power = np.mean(weighted[: count * 19_200].reshape(count, 19_200, 2) ** 2, axis=1).sum(axis=1)
        blocks.append(10 * np.log10(power))
    loud = np.maximum(*blocks)
    kept = loud > loud.max() - 30
    differences = (blocks[0] - blocks[1])[kept]
    factor = student_t.ppf(0.975, kept.sum() - 1)
    wanted = np.hypot(factor * differences.std(ddof=1) / np.sqrt(kept.sum()), 0.01)
    assert match.uncertainties_lu(pair, "a")["sallow", "bracken"] == pytest.approx(wanted, rel=1e-6)
    same = {"one": clips["sallow"], "two": clips["sallow"]}
    assert match.uncertainties_lu(same, "bs1770")["one", "two"] == pytest.approx(0.01)


def test_what_is_measured_again_is_the_level_before_and_the_gain(clips: dict[str, Clip], tmp_path: Path) -> None:
    found, _ = prepare.prepare("p", clips, tmp_path, seed=b"s")
    for own in found.setups:
        assert own.after_lufs == pytest.approx(own.loudness_lufs + own.gain_db, abs=0.01)


def test_mono_and_five_channels_are_matched(clips: dict[str, Clip], tmp_path: Path) -> None:
    for channels in (1, 5):
        several = {name: Clip(np.repeat(clip.samples[:, :1], channels, axis=1), RATE) for name, clip in clips.items()}
        found, paths = prepare.prepare("p", several, tmp_path, seed=b"s")
        assert found.residual_lu < 0.01
        assert reading.inspect(paths["sallow"]).channels == channels


@pytest.mark.parametrize(
    ("other", "error", "says"),
    [
        (np.zeros((5 * RATE, 2)), PassageError, "is silent .* in setup 'two'"),
        (np.ones((5 * RATE - 1, 2)), MeasureError, "differ in length in frames"),
        (np.ones((5 * RATE, 1)), MeasureError, "differ in channel count"),
    ],
)
def test_clips_that_cannot_be_matched_are_refused(
    clips: dict[str, Clip], tmp_path: Path, other: np.ndarray, error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says):
        prepare.prepare("p", {"one": clips["sallow"], "two": Clip(other, RATE)}, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_short_clips_unlike_rates_and_single_setups_are_refused(clips: dict[str, Clip], tmp_path: Path) -> None:
    short = Clip(clips["sallow"].samples[: RATE // 5], RATE)
    with pytest.raises(PassageError, match=r"0\.20 s long; choose at least 1 s"):
        prepare.prepare("p", {"one": short, "two": short}, tmp_path)
    with pytest.raises(MeasureError, match="differ in sample rate"):
        prepare.prepare("p", {"one": clips["sallow"], "two": Clip(clips["sallow"].samples, 44_100)}, tmp_path)
    with pytest.raises(MeasureError, match="two setups or more"):
        prepare.prepare("p", {"one": clips["sallow"]}, tmp_path)


@pytest.fixture(scope="module")
def minute() -> Clip:
    """A minute of demo pieces in a row."""
    parts = [reading.read(tracks.path(name)).samples for name in ("strings", "voice", "chords", "drums", "texture")]
    return Clip(np.concatenate(parts), RATE)


def with_a_difference(clip: Clip, start_s: float, end_s: float) -> Clip:
    """8 dB more around 3 kHz between two times, and 3 dB less overall, which a match takes away."""
    from scipy.signal import lfilter

    lift = 10 ** (8 / 40)
    turn, alpha = 2 * np.pi * 3000 / RATE, np.sin(2 * np.pi * 3000 / RATE) / 2
    b = np.array([1 + alpha * lift, -2 * np.cos(turn), 1 - alpha * lift])
    a = np.array([1 + alpha / lift, -2 * np.cos(turn), 1 - alpha / lift])
    changed = clip.samples.copy()
    part = slice(round(start_s * RATE), round(end_s * RATE))
    changed[part] = lfilter(b / a[0], a / a[0], changed[part], axis=0)
    return Clip(0.7 * changed, RATE)


def test_the_passage_proposed_is_where_the_setups_differ(minute: Clip) -> None:
    found = passages.survey({"one": minute, "two": with_a_difference(minute, 25, 37)}).proposals[0]
    start, end = found.start_frame / RATE, (found.start_frame + found.frames) / RATE
    assert 10 <= end - start <= 20
    assert start >= 24
    assert end <= 38.5
    assert found.difference_sone > 1


def test_several_passages_do_not_overlap_and_lie_inside(minute: Clip) -> None:
    found = passages.survey({"one": minute, "two": with_a_difference(minute, 0, 60)}, passages.Wish(count=3)).proposals
    assert len(found) == 3
    assert [part.difference_sone for part in found] == sorted((part.difference_sone for part in found), reverse=True)
    spans = sorted((part.start_frame, part.start_frame + part.frames) for part in found)
    assert all(one[1] <= other[0] for one, other in pairwise(spans))
    assert spans[-1][1] <= minute.frames


def test_passages_are_cut_at_quiet_points() -> None:
    """Clicks of music every second with gaps between: a cut may not fall into the sound."""
    beat = np.zeros(RATE)
    beat[: RATE * 6 // 10] = np.random.default_rng(2).normal(0, 0.1, RATE * 6 // 10)
    music = np.tile(beat, 30)[:, None] * np.ones(2)
    clip = Clip(music, RATE)
    found = passages.survey({"one": clip, "two": with_a_difference(clip, 8, 22)}).proposals[0]
    for place in (found.start_frame, found.start_frame + found.frames):
        if 0 < place < clip.frames:
            around = music[max(0, place - 480) : place + 480]
            assert np.abs(around).max() < 0.001


def test_a_short_track_is_proposed_whole(clips: dict[str, Clip]) -> None:
    found = passages.survey({name: clips[name] for name in ("sallow", "bracken")}).proposals
    assert [(part.start_frame, part.frames) for part in found] == [(0, clips["sallow"].frames)]


def test_tracks_without_a_passage_are_refused(clips: dict[str, Clip]) -> None:
    silent = Clip(np.zeros((12 * RATE, 2)), RATE)
    with pytest.raises(PassageError, match="silent"):
        passages.survey({"one": silent, "two": silent})
    short = Clip(clips["sallow"].samples[: RATE // 2], RATE)
    with pytest.raises(PassageError, match="at least 1 s"):
        passages.survey({"one": short, "two": short})
    with pytest.raises(MeasureError, match="two or more setups"):
        passages.survey({"one": silent})


def test_the_same_music_is_known_and_other_music_is_not() -> None:
    rng = np.random.default_rng(5)
    pieces = {track.name: played(track.name, "sallow", 9) for track in tracks.TRACKS}
    for name, clip in pieces.items():
        other = played(name, "bracken", 9).samples
        late = np.concatenate([np.zeros((round(1.3 * RATE), 2)), 0.3 * other])
        noisy = Clip(late + rng.normal(0, 0.002 * np.abs(late).max(), late.shape), RATE)
        assert pairing.same_music(clip, noisy) > 0.8
        assert pairing.same_music(clip, Clip(other, RATE)) > 0.98
    for one, two in combinations(pieces, 2):
        assert pairing.same_music(pieces[one], pieces[two]) < 0.5
    assert 0.5 < pairing.SAME_MUSIC < 0.9


def test_different_words_of_one_speaker_are_not_the_same() -> None:
    words = [reading.read(path) for path in sorted(Path("/usr/share/sounds/alsa").glob("*_*.wav"))]
    assert len(words) == 8
    assert max(pairing.same_music(one, two) for one, two in combinations(words, 2)) < pairing.SAME_MUSIC


def test_files_are_paired_by_name_then_by_content(tmp_path: Path) -> None:
    names = {
        "strings": ("01 - Strings.flac", "strings_bracken.wav"),
        "voice": ("Voice.flac", "VOICE_bracken.wav"),
        "drums": ("drums.flac", "take three_bracken.wav"),
    }
    for folder in ("sallow", "bracken"):
        (tmp_path / folder).mkdir()
    for piece, (first, second) in names.items():
        writing.write(tmp_path / "sallow" / first, played(piece, "sallow"))
        writing.write(tmp_path / "bracken" / second, played(piece, "bracken"))
    writing.write(tmp_path / "bracken" / "texture_bracken.wav", played("texture", "bracken"))
    sides = [sorted((tmp_path / folder).iterdir()) for folder in ("sallow", "bracken")]
    found = pairing.pair(*sides)
    assert {(pair.a.name, pair.b.name, pair.by) for pair in found.pairs} == {
        (*names["strings"], "name"), (*names["voice"], "name"), (*names["drums"], "content"),
    }  # fmt: skip
    assert found.left_a == ()
    assert [path.name for path in found.left_b] == ["texture_bracken.wav"]


def test_silent_and_short_clips_cannot_be_known(clips: dict[str, Clip]) -> None:
    with pytest.raises(MeasureError, match="is silent"):
        pairing.same_music(clips["sallow"], Clip(np.zeros((3 * RATE, 2)), RATE))
    with pytest.raises(MeasureError, match="too short"):
        pairing.same_music(clips["sallow"], Clip(clips["sallow"].samples[: RATE // 3], RATE))
