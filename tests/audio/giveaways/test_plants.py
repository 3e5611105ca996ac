"""Every kind of giveaway planted in real audio, just above and just below its limit, and nothing else beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, firwin, lfilter, sosfilt

from audio.clip import Clip, Samples
from audio.errors import MeasureError, PassageError
from audio.files import reading, writing
from audio.files.file_info import FileInfo
from audio.giveaways import blemishes, inspection, level_cues, production
from audio.giveaways.findings import KINDS, LIMITS, Finding
from audio.giveaways.wiring import wiring
from audio.levels.weighting import level_db
from audio.mend import Mend, read_mended
from demo_tracks import loudspeakers, tracks

SPOKEN = sorted(Path("/usr/share/sounds/alsa").glob("*_*.wav"))
RATE = 48_000


def piece(name: str) -> Clip:
    return reading.read(tracks.path(name))


def through(loudspeaker: str, clip: Clip) -> Clip:
    """A demo piece through an imaginary loudspeaker, at -27 LUFS."""
    played = Clip(loudspeakers.render(loudspeaker, clip.samples, clip.rate_hz), clip.rate_hz)
    level = level_db(played, "bs1770")
    assert level is not None
    return Clip(played.samples * 10 ** ((-27 - level) / 20), clip.rate_hz)


@pytest.fixture(scope="module")
def strings() -> Clip:
    return through("sallow", piece("strings"))


@pytest.fixture(scope="module")
def drums() -> Clip:
    return through("sallow", piece("drums"))


def found(reference: Clip, other: Clip) -> list[Finding]:
    return inspection.inspect("p", {"one": reference, "two": other})


def kinds(reference: Clip, other: Clip) -> list[str]:
    return [finding.kind for finding in found(reference, other)]


def planted(clip: Clip, change: Callable[[Samples], Samples]) -> Clip:
    return Clip(change(clip.samples.copy()), clip.rate_hz)


def shifted(samples: Samples, frames: float) -> Samples:
    """Later by so many frames, between samples too (turned in the spectrum, padded so that nothing wraps round)."""
    size = 1 << (samples.shape[0] + 4096).bit_length()
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)[:, None]
    return np.fft.irfft(np.fft.rfft(samples, size, axis=0) * turn, size, axis=0)[: samples.shape[0]]


@pytest.mark.parametrize("path", SPOKEN, ids=lambda path: path.stem)
def test_spoken_words_through_two_filters_are_no_giveaway(path: Path) -> None:
    spoken = reading.read(path)
    warm = sosfilt(butter(1, 6000, fs=spoken.rate_hz, output="sos"), spoken.samples, axis=0)
    lean = sosfilt(butter(2, 90, "highpass", fs=spoken.rate_hz, output="sos"), spoken.samples, axis=0)
    clips = [Clip(0.3 * samples, spoken.rate_hz) for samples in (warm, lean)]
    loud = [level_db(clip, "bs1770") for clip in clips]
    assert loud[0] is not None
    assert loud[1] is not None
    clips[1] = Clip(clips[1].samples * 10 ** ((loud[0] - loud[1]) / 20), spoken.rate_hz)
    assert found(*clips) == []


# kind, just below its limit, just above it, for each direction; every change is made to real music
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("beyond", [False, True])
def test_level(strings: Clip, sign: int, beyond: bool) -> None:
    gain_db = sign * (0.12 if beyond else 0.08)
    other = planted(strings, lambda x: x * 10 ** (gain_db / 20))
    assert kinds(strings, other) == (["level"] if beyond else [])
    if beyond:
        assert found(strings, other)[0].measured == pytest.approx(gain_db, abs=0.005)


@pytest.mark.parametrize("channel", [0, 1])
@pytest.mark.parametrize("beyond", [False, True])
def test_channel_level(strings: Clip, channel: int, beyond: bool) -> None:
    """One channel up and the other down, so that the overall loudness stays."""
    apart_db = 0.55 if beyond else 0.45

    def unbalance(x: Samples) -> Samples:
        x[:, channel] *= 10 ** (apart_db / 2 / 20)
        x[:, 1 - channel] *= 10 ** (-apart_db / 2 / 20)
        return x

    other = planted(strings, unbalance)
    assert kinds(strings, other) == (["channel-level"] if beyond else [])
    if beyond:
        assert found(strings, other)[0].measured == pytest.approx(apart_db, abs=0.02)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("beyond", [False, True])
def test_onset(strings: Clip, sign: int, beyond: bool) -> None:
    frames = sign * (50.3 if beyond else 45.7)  # the limit of 1 ms is 48 frames
    other = planted(strings, lambda x: shifted(x, frames))
    assert kinds(strings, other) == (["onset"] if beyond else [])
    if beyond:
        onset = found(strings, other)[0]
        assert onset.measured == pytest.approx(1000 * frames / RATE, abs=0.001)
        assert onset.mend == Mend(delay_s=pytest.approx(frames / RATE, abs=1e-6))


@pytest.mark.parametrize("name", ["strings", "drums", "voice", "chords", "texture"])
def test_a_delay_is_found_to_a_fiftieth_of_a_sample(name: str) -> None:
    """At 40 dB of uncorrelated noise; twice the 0.01 sample that is asked of white signals at 30 dB, for music."""
    clip = through("sallow", piece(name))
    noise = np.random.default_rng(3).normal(0, clip.samples.std() / 100, clip.samples.shape)
    for frames in (0.0, 3.37, -17.52):
        late = wiring(clip, Clip(shifted(clip.samples, frames) + noise, RATE))
        assert late is not None
        assert late.delay_s * RATE == pytest.approx(frames, abs=0.02)


@pytest.mark.parametrize("end", ["start", "end"])
@pytest.mark.parametrize("beyond", [False, True])
def test_length(strings: Clip, end: str, beyond: bool) -> None:
    """A stretch missing at an end, in music that sounds to both ends."""
    sounding = Clip(strings.samples[RATE : 9 * RATE], RATE)
    missing = round((0.055 if beyond else 0.045) * RATE)

    def cut(x: Samples) -> Samples:
        x[slice(None, missing) if end == "start" else slice(-missing, None)] = 0
        return x

    assert kinds(sounding, planted(sounding, cut)) == (["length"] if beyond else [])


def test_clips_of_unlike_length_are_a_length_finding(strings: Clip) -> None:
    sounding = Clip(strings.samples[RATE : 9 * RATE], RATE)
    assert kinds(sounding, Clip(sounding.samples[: -RATE // 10], RATE)) == ["length"]


@pytest.mark.parametrize("beyond", [False, True])
def test_clipping(strings: Clip, beyond: bool) -> None:
    """Flat tops of five samples at the clip's own ceiling: two of them pass, four do not."""
    tops = 4 if beyond else 2
    peak = float(np.abs(strings.samples).max())

    def flatten(x: Samples) -> Samples:
        places = np.argsort(-x[:, 0])
        chosen: list[int] = []
        for place in places:
            if len(chosen) == tops:
                break
            if all(abs(int(place) - other) > 50 for other in chosen):
                chosen.append(int(place))
        for place in chosen:
            x[place - 2 : place + 3, 0] = peak
        return x

    other = planted(strings, flatten)
    assert blemishes.clipped_runs(strings) == 0
    assert blemishes.clipped_runs(other) == tops
    assert kinds(strings, other) == (["clipping"] if beyond else [])
    assert kinds(other, strings) == (["clipping"] if beyond else [])


def test_music_driven_into_full_scale_is_found_clipped(strings: Clip) -> None:
    driven = np.clip(strings.samples * 8 / np.abs(strings.samples).max(), -1, 1)
    level, reference = level_db(Clip(driven, RATE), "bs1770"), level_db(strings, "bs1770")
    assert level is not None
    assert reference is not None
    other = Clip(driven * 10 ** ((reference - level) / 20), RATE)
    assert "clipping" in kinds(strings, other)


@pytest.mark.parametrize("beyond", [False, True])
def test_noise_floor(drums: Clip, beyond: bool) -> None:
    """Noise of -74 dBFS in the pauses of a drum kit, and such noise 3.5 or 2.5 dB stronger."""
    hiss = np.random.default_rng(6).normal(0, 10 ** (-74 / 20), drums.samples.shape)
    quieter = planted(drums, lambda x: x + hiss)
    more_db = 3.5 if beyond else 2.5
    louder = planted(drums, lambda x: x + hiss[::-1] * 10 ** (more_db / 20))
    assert kinds(quieter, louder) == (["noise-floor"] if beyond else [])
    assert kinds(louder, quieter) == (["noise-floor"] if beyond else [])
    if beyond:
        assert found(quieter, louder)[0].measured == pytest.approx(more_db, abs=0.5)


def test_noise_counts_only_where_there_are_pauses(strings: Clip) -> None:
    sounding = Clip(strings.samples[RATE : 5 * RATE], RATE)
    hiss = np.random.default_rng(6).normal(0, 1e-4, sounding.samples.shape)
    assert kinds(sounding, planted(sounding, lambda x: x + hiss)) == []


@pytest.mark.parametrize("name", ["strings", "drums"])
def test_polarity(name: str) -> None:
    clip = through("sallow", piece(name))
    turned = through("bracken", piece(name))
    turned = Clip(-turned.samples, RATE)
    assert kinds(clip, turned) == ["polarity"]
    assert found(clip, turned)[0].mend == Mend(invert=True)


@pytest.mark.parametrize("beyond", [False, True])
def test_polarity_at_its_limit(strings: Clip, beyond: bool) -> None:
    """Turned round and buried in noise until the correlation is a little above or below 0.3."""
    wanted = 0.34 if beyond else 0.26
    rng = np.random.default_rng(9)
    spectrum = np.abs(np.fft.rfft(strings.samples[:, 0])) * np.exp(2j * np.pi * rng.random(strings.frames // 2 + 1))
    noise = np.fft.irfft(spectrum, strings.frames)  # noise of the music's own colour
    noise *= strings.samples[:, 0].std() / noise.std() * np.sqrt(1 / wanted**2 - 1)
    late = wiring(strings, planted(strings, lambda x: -x + noise[:, None]))
    assert late is not None
    seen = kinds(strings, planted(strings, lambda x: -x + noise[:, None]))
    assert ("polarity" in seen) == beyond == (late.correlation < -0.3)


def test_swapped_channels(drums: Clip, strings: Clip) -> None:
    for clip in (drums, strings):
        wide = planted(clip, lambda x: np.stack([x[:, 0], np.roll(x[:, 1], 9000) * 0.98], axis=1))
        assert kinds(wide, planted(wide, lambda x: x[:, ::-1].copy())) == ["channels"]


@pytest.mark.parametrize("beyond", [False, True])
def test_a_missing_channel(strings: Clip, beyond: bool) -> None:
    lost_db = 32 if beyond else 28

    def lose(x: Samples) -> Samples:
        x[:, 1] *= 10 ** (-lost_db / 20)
        return x

    other = planted(strings, lose)
    missing = [finding for finding in found(strings, other) if finding.kind == "channels"]
    said = [finding.what for finding in missing if finding.limit == LIMITS["channels-missing"].value]
    assert [f"two lacks channel 2 ({lost_db} dB)"] * beyond == said


def test_mono_against_stereo_and_unlike_counts(strings: Clip) -> None:
    wide = planted(strings, lambda x: np.stack([x[:, 0], np.roll(x[:, 1], 9000)], axis=1))
    mono = planted(wide, lambda x: np.repeat(x.mean(axis=1, keepdims=True) * np.sqrt(2), 2, axis=1))
    assert "channels" in kinds(wide, mono)
    single = Clip(strings.samples[:, :1], RATE)
    assert "channels" in kinds(strings, single)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("beyond", [False, True])
def test_drift(strings: Clip, sign: int, beyond: bool) -> None:
    """A clock so far off that the music has moved 0.6 or 0.4 ms at the passage's end; the limit is 0.5 ms."""
    gathered_s = sign * (0.0006 if beyond else 0.0004)
    ppm = 1e6 * gathered_s / strings.length_s
    places = np.arange(strings.frames) / (1 + ppm * 1e-6)
    other = planted(strings, lambda x: at_places(x, places))
    assert kinds(strings, other) == (["drift"] if beyond else [])
    if beyond:
        drifting = found(strings, other)[0]
        assert drifting.measured == pytest.approx(1000 * gathered_s, abs=0.02)
        assert drifting.mend is not None
        assert drifting.mend.stretch_ppm == pytest.approx(ppm, abs=1.5)


def at_places(samples: Samples, places: np.ndarray) -> Samples:
    """The music between its samples: four-point Lagrange on the eightfold oversampled signal; not our own reader."""
    from scipy.signal import resample

    times, edge = 8, 2048
    size = 1 << (samples.shape[0] + 2 * edge - 1).bit_length()
    padded = np.pad(samples, ((edge, size - samples.shape[0] - edge), (0, 0)))
    fine = resample(padded, times * size, axis=0)
    at = (places + edge) * times
    whole = np.floor(at).astype(int)
    x = (at - whole)[:, None]
    before, here, after, later = (fine[whole + step] for step in (-1, 0, 1, 2))
    return (
        -x * (x - 1) * (x - 2) / 6 * before
        + (x + 1) * (x - 1) * (x - 2) / 2 * here
        - (x + 1) * x * (x - 2) / 2 * after
        + (x + 1) * x * (x - 1) / 6 * later
    )


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("beyond", [False, True])
def test_dc(strings: Clip, sign: int, beyond: bool) -> None:
    offset = sign * 10 ** ((-59 if beyond else -61) / 20)
    other = planted(strings, lambda x: x + offset)
    assert kinds(strings, other) == (["dc"] if beyond else [])


@pytest.mark.parametrize(("taps", "beyond"), [(401, True), (31, False)], ids=["a file's filter", "a gentle one"])
def test_bandwidth(drums: Clip, taps: int, beyond: bool) -> None:
    low_pass = firwin(taps, 12_000, fs=RATE, window=("kaiser", 10.0)) if beyond else None
    if low_pass is None:
        sections = butter(2, 12_000, fs=RATE, output="sos")  # 12 dB an octave: a loudspeaker's own
        other = planted(drums, lambda x: sosfilt(sections, x, axis=0))
    else:
        delay = (taps - 1) // 2
        other = planted(drums, lambda x: np.roll(lfilter(low_pass, 1, x, axis=0), -delay, axis=0))
    assert ("format" in kinds(drums, other)) == beyond


@pytest.mark.parametrize("beyond", [False, True])
def test_bandwidth_at_its_limit(drums: Clip, beyond: bool) -> None:
    """A shelf of 23 or 17 dB within a twelfth of an octave; the limit is 20 dB in a sixth."""
    step_db = 23 if beyond else 17
    size = 1 << (drums.frames - 1).bit_length()
    freqs = np.fft.rfftfreq(size, 1 / RATE)
    place = np.clip((np.log2(np.maximum(freqs, 1) / 8000)) * 12, 0, 1)
    gain = 10 ** (-step_db * place / 20)[:, None]
    other = planted(drums, lambda x: np.fft.irfft(np.fft.rfft(x, size, axis=0) * gain, size, axis=0)[: x.shape[0]])
    wall = production.wall(drums, other)
    assert wall is not None
    assert wall.depth_db == pytest.approx(step_db, abs=1.5)
    assert wall.at_hz == pytest.approx(8000, rel=0.15)
    assert ("format" in kinds(drums, other)) == beyond


def test_rate_and_word_length_of_files(strings: Clip, tmp_path: Path) -> None:
    def keep(name: str, samples: Samples, rate_hz: int = RATE, bits: int = 24) -> FileInfo:
        rounded = np.rint(samples * 2 ** (bits - 1)) / 2 ** (bits - 1)
        writing.write(tmp_path / name, Clip(rounded, rate_hz), subtype="PCM_24", dither=False)
        return reading.inspect(tmp_path / name)

    short = strings.samples[: 3 * RATE]
    full = keep("24.wav", short)
    for bits, beyond in ((20, False), (19, True), (16, True)):
        other = keep(f"{bits}.wav", short, bits=bits)
        assert production.word_length(other) == bits
        findings = production.source_files("p", "two", full, other)
        assert [finding.kind for finding in findings] == (["format"] if beyond else [])
    slow = keep("44.wav", short, rate_hz=44_100)
    assert [finding.measured for finding in production.source_files("p", "two", full, slow)] == [-3900]


def test_what_is_planted_on_disk_is_mended_and_clean_after(tmp_path: Path) -> None:
    """3.4 ms late, a clock 85 ppm fast, turned polarity and another rate, in a file: found, mended, clean."""
    clip = through("sallow", piece("drums"))
    other = through("bracken", piece("drums"))
    places = np.arange(other.frames) / (1 + 85e-6) - 0.0034 * RATE
    wrong = -at_places(other.samples, places)
    from audio.giveaways.repair import propose
    from audio.resample import resample

    writing.write(tmp_path / "one.wav", clip, seed=1)
    writing.write(tmp_path / "two.wav", resample(Clip(wrong, RATE), 44_100), seed=2)
    paths = {"one": tmp_path / "one.wav", "two": tmp_path / "two.wav"}
    infos = {name: reading.inspect(path) for name, path in paths.items()}
    start, frames = RATE, 9 * RATE
    mends = {"one": Mend(), "two": Mend()}

    def look() -> list[Finding]:
        cut = {name: read_mended(path, start, frames, RATE, RATE, mends[name]) for name, path in paths.items()}
        return inspection.inspect("p", cut, infos, rate_mended=[n for n, m in mends.items() if m.rate_hz])

    first = look()
    assert {finding.kind for finding in first} == {"onset", "drift", "polarity", "format"}
    mends["two"] = propose(first, polarity=True)["two"]
    # the delay grows from the file's start, so at the passage's start it is 1 s * 85 ppm more
    assert mends["two"].delay_s == pytest.approx(0.0034 + 85e-6, abs=2e-5)
    assert mends["two"].stretch_ppm == pytest.approx(85, abs=2)
    assert mends["two"].invert is True
    assert mends["two"].rate_hz == RATE
    assert look() == []
    cut = {name: read_mended(path, start, frames, RATE, RATE, mends[name]) for name, path in paths.items()}
    late = wiring(cut["one"], cut["two"])
    assert late is not None
    assert abs(late.delay_s * RATE) < 0.3
    assert late.correlation > 0.9


def test_findings_come_with_their_limit_and_its_source() -> None:
    assert {limit.kind for limit in LIMITS.values()} == set(KINDS)
    for limit in LIMITS.values():
        assert limit.source
        assert limit.unit


def test_three_setups_are_held_against_the_first(strings: Clip) -> None:
    clips = {"one": strings, "two": planted(strings, lambda x: -x), "three": planted(strings, lambda x: 0.9 * x)}
    assert [(finding.setup, finding.kind) for finding in inspection.inspect("p", clips)] == [
        ("two", "polarity"), ("three", "level"),
    ]  # fmt: skip


def test_five_channels_are_inspected(strings: Clip) -> None:
    five = Clip(np.concatenate([strings.samples, strings.samples, strings.samples[:, :1]], axis=1), RATE)
    quieter = planted(five, lambda x: x * np.array([1, 1, 1, 0.9, 1]))
    assert "channel-level" in kinds(five, quieter)


def test_silence_in_every_setup_is_refused() -> None:
    silent = Clip(np.zeros((4 * RATE, 2)), RATE)
    with pytest.raises(PassageError, match="silent in every setup"):
        found(silent, silent)


@pytest.mark.parametrize("case", ["one setup", "short", "not a number"])
def test_what_cannot_be_inspected_is_refused(strings: Clip, case: str) -> None:
    if case == "one setup":
        with pytest.raises(MeasureError, match="between two setups or more"):
            inspection.inspect("p", {"one": strings})
    elif case == "short":
        short = Clip(strings.samples[: RATE // 5], RATE)
        with pytest.raises(PassageError, match=r"0\.20 s long; choose at least 1 s"):
            found(short, short)
    else:
        bad = planted(strings, lambda x: np.where(np.arange(x.shape[0])[:, None] == 99, np.nan, x))
        with pytest.raises(MeasureError, match="not numbers"):
            found(strings, bad)


def test_levels_module_reports_what_is_planted_in_other_measures(strings: Clip) -> None:
    louder = planted(strings, lambda x: x * 10 ** (0.15 / 20))
    for by in ("a", "c", "band"):
        assert [finding.kind for finding in level_cues.levels("p", "two", strings, louder, None, by)] == ["level"]  # type: ignore[arg-type]
