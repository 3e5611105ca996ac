"""Hiss, hum and what a coder leaves behind, planted under music and in pauses: found as themselves, both ways."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.polynomial.polynomial import polyval
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, istft, sosfilt, stft

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways import coding, hum, inspection, noise, production, unjudged
from audio.giveaways.findings import Finding
from audio.giveaways.steady_lines import Line
from audio.levels.weighting import level_db
from demo_tracks.biquads import Biquad, apply
from tests import families
from tests.benchmarks import clean_pairs

RATE_HZ = 48_000
Samples = NDArray[np.float64]
Look = Callable[[str, str, Clip, Clip], list[Finding]]


def found_between(reference: Samples, other: Samples) -> list[Finding]:
    return inspection.inspect("p", {"one": Clip(reference, RATE_HZ), "two": Clip(other, RATE_HZ)})


def hum_between(passage: str, setup: str, reference: Clip, other: Clip) -> list[Finding]:
    return hum.told(passage, setup, hum.either(reference, other))


def kinds(found: list[Finding]) -> list[str]:
    return [each.kind for each in found]


def at_level(samples: Samples, level_dba: float) -> Samples:
    """The samples at an A-weighted level, in dB re full scale."""
    level = level_db(Clip(samples, RATE_HZ), "a")
    assert level is not None
    return samples * 10 ** ((level_dba - level) / 20)


def hiss(shape: tuple[int, ...], level_dba: float) -> Samples:
    return at_level(np.random.default_rng(7).standard_normal(shape), level_dba)


def hummed(frames: int, mains_hz: float, level_dba: float) -> Samples:
    """The mains and three multiples, as behind a worn supply."""
    t = np.arange(frames) / RATE_HZ
    parts = ((1, 1.0), (2, 1.0), (3, 0.5), (5, 0.3))
    tone = sum(strength * np.sin(2 * np.pi * times * mains_hz * t + times) for times, strength in parts)
    return at_level(np.stack([tone, tone], axis=1), level_dba)


@pytest.fixture(scope="module")
def playing() -> Samples:
    """Five seconds without a pause, of bass, chords and a melody, at -26 LUFS."""
    rng = np.random.default_rng([5, 5])
    return families.noisy(rng, families.played(families.score(rng, 5.0, drums=False), 5.0, RATE_HZ) * 0.3, 90.0)


@pytest.mark.parametrize("swapped", [False, True])
def test_hiss_under_continuous_music_is_found_of_the_one_that_has_it(playing: Samples, swapped: bool) -> None:
    """By a positive number against the other, in whichever order they are compared."""
    noisy = playing + hiss(playing.shape, -70.0)
    finding, *others = found_between(noisy, playing) if swapped else found_between(playing, noisy)
    assert others == []
    assert finding.kind == "noise-floor"
    assert (finding.setup, finding.against) == (("one", "two") if swapped else ("two", "one"))
    assert finding.measured > finding.limit
    assert finding.what.startswith(f"{finding.setup} has steady noise")
    assert finding.what.endswith(f"more than {finding.against}")


@pytest.mark.parametrize(("seed", "below_db", "level_db"), [(3, 90.0, -55.0), (1, None, -45.0)])
def test_hum_in_the_silence_before_the_music_is_hum_and_nothing_that_the_other_lacks(
    seed: int, below_db: float | None, level_db: float
) -> None:
    """The music begins after a second: what hums there was a dropout of one of the two, or made it longer by that."""
    rng = np.random.default_rng([12, seed])
    music = 0.5 * families.played(families.score(rng, 7.0, drums=seed % 2 == 0), 7.0, RATE_HZ)
    quiet = np.concatenate([np.zeros((RATE_HZ, 2)), music])
    if below_db is not None:
        quiet = families.noisy(np.random.default_rng(3), quiet, below_db)
    phase = 2 * np.pi * 60.0 * np.arange(len(quiet)) / RATE_HZ
    tone = sum(size * np.sin(times * phase + times) for times, size in ((1, 1.0), (2, 1.0), (3, 0.5), (5, 0.3)))
    (found,) = found_between(quiet, quiet + 10 ** (level_db / 20) * np.asarray(tone)[:, None])
    assert found.kind == "hum"
    assert found.what.startswith("two hums, one does not")


@pytest.mark.parametrize(("hz", "share", "hums"), [(50.0, 0.7, True), (50.0, 0.3, False), (73.0, 1.0, False)])
def test_a_stretch_that_is_mostly_hum_is_told_from_one_in_which_something_sounds(
    hz: float, share: float, hums: bool
) -> None:
    """By the share of its energy that is in the mains' multiples; a tone of 73 Hz is not."""
    frames = RATE_HZ // 4
    tone = np.sqrt(2 * share) * np.sin(2 * np.pi * hz * np.arange(frames) / RATE_HZ + 0.4)
    rest = np.sqrt(1 - share) * np.random.default_rng(1).standard_normal(frames)
    known = hum.Hum(50.0, 1, -50.0, of_heard=True, loudest_hz=50.0, base_hz=50.0)
    assert hum.is_most_of(tone + rest, RATE_HZ, [None, known]) is hums


@pytest.fixture(scope="module")
def dense() -> Samples:
    """Ten seconds of two pieces at once, drums, bass, chords and melodies, at -23 LUFS."""
    rng = np.random.default_rng([5, 6])
    samples = families.played(families.score(rng, 10.0) + families.score(rng, 10.0), 10.0, RATE_HZ)
    loudness = level_db(Clip(samples, RATE_HZ), "bs1770")
    assert loudness is not None
    return families.noisy(rng, samples * 10 ** ((-23 - loudness) / 20), 90.0)


@pytest.mark.parametrize(
    ("level_dbfs", "pink", "equalised"),
    [(-70.0, False, False), (-70.0, False, True), (-65.0, True, True), (-55.0, False, False)],
)
def test_hiss_under_dense_music_is_found_at_its_level(
    dense: Samples, level_dbfs: float, pink: bool, equalised: bool
) -> None:
    rng = np.random.default_rng(8)
    heard = families.equaliser(rng, dense, RATE_HZ) if equalised else dense
    spectrum = np.fft.rfft(rng.standard_normal(dense.shape), axis=0)
    freqs = np.fft.rfftfreq(len(dense), 1 / RATE_HZ)
    if pink:
        spectrum /= np.sqrt(np.maximum(freqs, 20.0))[:, None]
    planted = np.fft.irfft(spectrum, len(dense), axis=0)
    planted *= 10 ** (level_dbfs / 20) / planted.std()
    own, none = noise.excesses(Clip(dense, RATE_HZ), Clip(heard + planted, RATE_HZ))
    assert own is not None
    spectrum = np.fft.rfft(planted, axis=0)
    spectrum[(freqs < own.low_hz) | (freqs > own.high_hz)] = 0
    true_db = level_db(Clip(np.fft.irfft(spectrum, len(dense), axis=0), RATE_HZ), "a")
    assert own.level_db == pytest.approx(true_db, abs=1.0)
    assert own.at_least
    assert own.beyond_db > 6
    assert none is None or none.beyond_db < 0


@pytest.mark.parametrize("by_db", [-10.0, -4.0, 0.0, 4.0, 10.0])
def test_of_two_noises_the_difference_is_told_and_never_more_than_it(dense: Samples, by_db: float) -> None:
    one, two = np.random.default_rng(9).standard_normal((2, *dense.shape))
    noisy = (dense + each * 10 ** ((-62 + by / 2) / 20) for each, by in ((one, -by_db), (two, by_db)))
    found = noise.noise("p", "two", *(Clip(each, RATE_HZ) for each in noisy))
    assert all(0 < each.measured / by_db < 1.1 for each in found) if by_db else not found
    assert found or abs(by_db) < 5


@cache
def ensemble(seed: int, slope: float) -> Samples:
    """Five seconds of held notes whose upper harmonics sink into noise one by one, and hardly move."""
    notes = held_notes(np.random.default_rng([21, seed]), 12_000.0, slope)
    return np.asarray(notes * 0.35 / np.abs(notes).max())


def held_notes(rng: np.random.Generator, end_hz: float, slope: float) -> Samples:
    """Five seconds of held notes, three at a time, each of two voices a few cents apart: what a sampler plays.

    Their harmonics fall with their order to the power of `slope`, and end at `end_hz`.
    """
    result = np.zeros((5 * RATE_HZ, 2))
    t = np.arange(RATE_HZ) / RATE_HZ
    fade = np.minimum(1, np.minimum(t, t[::-1]) / 0.02)
    for start in range(0, len(result), RATE_HZ):
        for _ in range(3):
            pitch_hz = 110 * 2 ** (rng.integers(0, 25) / 12)
            for cents in rng.uniform(-8, 8, 2):
                order = np.arange(1, int(end_hz / pitch_hz))
                # the harmonics, each with a phase of its own, fading the sooner the higher: powers of one turning decay
                turn = np.exp((2j * np.pi * pitch_hz * 2 ** (cents / 1200) - 0.02) * t)
                tone = polyval(turn, np.append(0, np.exp(1j * order**2 * cents) / order**slope)).imag
                result[start : start + RATE_HZ] += (tone * fade)[:, None] * rng.uniform(0.5, 1, 2)
    return result


MILD = (Biquad("peaking", 3000.0, gain_db=2.5, q=0.9), Biquad("peaking", 120.0, gain_db=-1.0, q=0.8))


@pytest.mark.parametrize("by_db", [0.0, 1.5])
@pytest.mark.parametrize(("seed", "slope", "level_dbfs"), [(0, 1.5, -80.0), (0, 1.5, -70.0), (1, 2.5, -80.0)])
def test_two_noises_about_as_loud_under_held_notes_are_no_cue(
    seed: int, slope: float, level_dbfs: float, by_db: float
) -> None:
    """The filter between the two is learnt under noise, and leaves over faint music as well: that is no noise."""
    music = ensemble(seed, slope)
    heard = (music, apply(MILD, music, RATE_HZ))
    rng = np.random.default_rng([22, seed])
    levels = (level_dbfs - by_db / 2, level_dbfs + by_db / 2)
    one, two = (
        Clip(each + 10 ** (level / 20) * rng.standard_normal(each.shape), RATE_HZ)
        for each, level in zip(heard, levels, strict=True)
    )
    assert noise.noise("p", "two", one, two) == []


@pytest.mark.parametrize("swapped", [False, True])
def test_what_noise_could_be_hidden_is_read_off_the_comparison_that_the_check_made(
    playing: Samples, swapped: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[int] = []
    compare = noise.courses

    def counted(*what: Any, **how: Any) -> Any:
        begun.append(1)
        return compare(*what, **how)

    monkeypatch.setattr(noise, "courses", counted)
    noisy = playing + hiss(playing.shape, -71.0)
    clips = {"one": Clip(playing, RATE_HZ), "two": Clip(noisy, RATE_HZ)}
    clips = dict(reversed(clips.items())) if swapped else clips
    assert kinds(inspection.inspect("p", clips)) == ["noise-floor"]
    assert len(begun) == 2  # both ways
    assert unjudged.unjudged("p", clips) == []
    assert len(begun) == 2


def test_hiss_below_a_quiet_rooms_noise_passes(playing: Samples) -> None:
    assert found_between(playing, playing + hiss(playing.shape, -87.0)) == []


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("piece", ["drums", "spoken"])
def test_hiss_is_found_in_a_room_and_behind_an_equaliser(longer: dict[str, Clip], piece: str, swapped: bool) -> None:
    rng = np.random.default_rng(3)
    dry = longer[piece].samples
    wet = families.room(rng, families.equaliser(rng, dry, RATE_HZ), 0.3, 6.0, RATE_HZ)
    wet *= dry.std() / wet.std()
    noisy = wet + hiss(wet.shape, -60.0)
    one, two = (Clip(each, RATE_HZ) for each in ((noisy, dry) if swapped else (dry, noisy)))
    assert kinds(noise.noise("p", "two", one, two)) == ["noise-floor"]
    one, two = (Clip(each, RATE_HZ) for each in ((wet, dry) if swapped else (dry, wet)))
    assert noise.noise("p", "two", one, two) == []


def test_noise_of_the_music_through_another_loudspeaker_is_none(playing: Samples) -> None:
    """Tape hiss is in the music: a loudspeaker with 8 dB more treble plays it 8 dB louder, with the rest."""
    taped = playing + hiss(playing.shape, -65.0)
    bright = apply((Biquad("high-shelf", 3000.0, gain_db=8.0, q=0.7),), taped, RATE_HZ)
    assert noise.noise("p", "two", Clip(taped, RATE_HZ), Clip(bright, RATE_HZ)) == []


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("mains_hz", [50.0, 49.7, 60.4])
@pytest.mark.parametrize("piece", ["drums", "voice", "strings", "spoken"])
def test_hum_is_found_under_music_and_in_pauses(
    longer: dict[str, Clip], piece: str, mains_hz: float, swapped: bool
) -> None:
    samples = longer[piece].samples
    humming = samples + hummed(len(samples), mains_hz, -62.0)
    one, two = (Clip(each, RATE_HZ) for each in ((humming, samples) if swapped else (samples, humming)))
    (finding,) = hum_between("p", "two", one, two)
    assert finding.measured == pytest.approx(-62, abs=15)  # at least: lines under the music are not counted
    assert f"about {50 if mains_hz < 55 else 60} Hz" in finding.what
    assert finding.what.startswith("the reference hums" if swapped else "two hums")


def test_hum_is_told_as_hum_alone(longer: dict[str, Clip]) -> None:
    samples = longer["drums"].samples
    assert kinds(found_between(samples, samples + hummed(len(samples), 50.0, -62.0))) == ["hum"]
    assert found_between(samples, samples + hummed(len(samples), 50.0, -87.0)) == []


@pytest.mark.parametrize("after", ["nothing", "an equaliser", "a room"])
@pytest.mark.parametrize("swapped", [False, True])
def test_hum_is_found_under_dense_music_with_drums(dense: Samples, after: str, swapped: bool) -> None:
    """Nothing pauses; music is 37 dB louder, and the hum's lines lie among the bass and the kick drum."""
    rng = np.random.default_rng(12)
    wet = dense if after == "nothing" else families.equaliser(rng, dense, RATE_HZ)
    if after == "a room":
        wet = families.room(rng, wet, 0.3, 6.0, RATE_HZ)
    wet = wet * dense.std() / wet.std()
    humming = wet + hummed(len(dense), 60.2, -60.0)
    one, two = (Clip(each, RATE_HZ) for each in ((humming, dense) if swapped else (dense, humming)))
    (finding,) = hum_between("p", "two", one, two)
    assert finding.measured == pytest.approx(-60, abs=4)  # at least
    assert finding.what.startswith("the reference hums" if swapped else "two hums")
    one, two = (Clip(each, RATE_HZ) for each in ((wet, dense) if swapped else (dense, wet)))
    assert hum_between("p", "two", one, two) == []


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize(
    ("times", "mains_hz", "told"),
    [((3, 5, 7), 49.8, True), ((3, 4, 5, 6), 60.3, True), ((3, 6, 9, 12), 49.8, False), ((3, 5), 49.8, True)],
)
def test_a_buzz_without_the_mains_and_twice_it_is_hum_where_its_lines_tell_the_mains(
    longer: dict[str, Clip], times: tuple[int, ...], mains_hz: float, told: bool, swapped: bool
) -> None:
    """Lines that have no other base, two of them if they stand out far; a drone of 149 Hz and its harmonics is none."""
    samples = longer["drums"].samples
    t = np.arange(len(samples)) / RATE_HZ
    tone = sum(np.sin(2 * np.pi * order * mains_hz * t + order) for order in times)
    buzzing = samples + at_level(np.stack([tone, tone], axis=1), -60.0)
    pair = (buzzing, samples) if swapped else (samples, buzzing)
    found = hum_between("p", "two", *(Clip(each, RATE_HZ) for each in pair))
    assert kinds(found) == (["hum"] if told else [])
    who = "the reference" if swapped else "two"
    assert all(each.what.startswith(f"{who} hums") for each in found)
    assert all(f"{len(times)} steady lines about {mains_hz:.0f} Hz" in each.what for each in found)


@pytest.mark.parametrize(("at_hz", "words"), [(50.0, "at 50 Hz;"), (100.0, "at 100 Hz, 2 times the mains' 50 Hz;")])
def test_a_hum_of_one_line_is_told_by_its_own_frequency(longer: dict[str, Clip], at_hz: float, words: str) -> None:
    samples = longer["drums"].samples
    tone = np.sin(2 * np.pi * at_hz * np.arange(len(samples)) / RATE_HZ)
    humming = samples + at_level(np.stack([tone, tone], axis=1), -55.0)
    (finding,) = hum_between("p", "two", Clip(samples, RATE_HZ), Clip(humming, RATE_HZ))
    assert f": 1 steady line {words} find" in finding.what


@pytest.mark.parametrize("swapped", [False, True])
def test_a_file_that_ends_is_said_to_hold_next_to_nothing_above_its_end(swapped: bool) -> None:
    """By a filter that is 3 dB down at 15 kHz and 21 dB at 17 kHz (Butterworth's formula, its axis bent by tan)."""
    rng = np.random.default_rng(8)
    swells = 0.05 + np.square(np.sin(np.pi * np.arange(4 * RATE_HZ) / RATE_HZ))
    playing = 0.1 * rng.standard_normal((4 * RATE_HZ, 2)) * swells[:, None]
    ended = sosfilt(butter(8, 15_000, fs=RATE_HZ, output="sos"), playing, axis=0)
    pair = (ended, playing) if swapped else (playing, ended)
    (finding,) = production.bandwidth("p", "two", *(Clip(each, RATE_HZ) for each in pair))
    cut, whole = ("the reference", "two") if swapped else ("two", "the reference")
    assert finding.what.startswith(f"{cut} holds next to nothing above 17.")
    assert f" kHz, where {whole} goes on (a fall of " in finding.what


@pytest.mark.parametrize(
    ("level_dba", "mains_hz", "told"),
    [
        (-60.0, 50.1, "two and the reference both hum, but not alike: "),
        (-75.0, 50.1, "the reference hums, two does not, or less: "),
        (-70.0, 50.0, "the reference hums, two does not, or less: "),
    ],
)
def test_where_both_hum_none_is_said_to_be_free_of_it(level_dba: float, mains_hz: float, told: str) -> None:
    """The reference hums at -60 dBFS (A) and 50 Hz, the other as given."""
    rng = np.random.default_rng([5, 5])
    samples = families.noisy(rng, families.played(families.score(rng, 6.0), 6.0, RATE_HZ) * 0.3, 90.0)
    lean = families.equaliser(rng, samples, RATE_HZ)
    one, two = samples + hummed(len(samples), 50.0, -60.0), lean + hummed(len(samples), mains_hz, level_dba)
    (finding,) = hum_between("p", "two", Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    assert finding.what.startswith(told)
    (finding,) = hum_between("p", "two", Clip(samples, RATE_HZ), Clip(two, RATE_HZ))
    assert finding.what.startswith("two hums, the reference does not, or less: ")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_level_below_which_a_room_hides_hum_is_told(longer: dict[str, Clip], seed: int) -> None:
    """A tone a little above that level is found, one 16 dB below it is not."""
    piece = longer["drums"].samples
    wet = families.room(np.random.default_rng(seed), piece, 0.8, 0.0, RATE_HZ)
    hides_db = hum.hides_db(Clip(piece, RATE_HZ), Clip(wet, RATE_HZ))
    assert hides_db is not None
    assert -90 < hides_db < -50
    tone = np.sin(2 * np.pi * 100.2 * np.arange(len(wet)) / RATE_HZ)[:, None] * [1.0, 1.0]
    for over_db, found in ((0.5, True), (-16, False)):
        hummed = wet + at_level(tone, hides_db + over_db)
        assert bool(hum_between("p", "two", Clip(piece, RATE_HZ), Clip(hummed, RATE_HZ))) is found


@pytest.mark.parametrize(("sure", "times", "told"), [(300.0, 5, False), (3000.0, 5, True), (3000.0, 6, False)])
def test_two_lines_above_twice_the_mains_are_hum_if_both_stand_out_far_and_share_no_other_base(
    sure: float, times: int, told: bool
) -> None:
    """Of 44 clean pairs no line among the mains' multiples stood out more than 230 times."""
    lines = [Line(150.0, 1e6, 1e-7, 1e-9, 1900.0), Line(50.0 * times, sure, 1e-7, 1e-9, 3.0)]
    assert (hum.hum_of(lines) is not None) is told


@pytest.mark.parametrize("swapped", [False, True])
def test_two_notes_one_of_each_recording_are_no_hum(swapped: bool) -> None:
    """Both are multiples of 59.7 Hz to 0.1 Hz, as once left over of notes by two rooms; lines of one recording are."""
    sign = -1 if swapped else 1
    low, high = Line(119.40, 44.0, 1e-7, 1e-6, -20.0 * sign), Line(835.75, 133.0, 1e-8, 1e-9, 50.0 * sign)
    assert hum.hum_of([low, high]) is None
    of_one = hum.hum_of([replace(low, more=20.0 * sign), high])
    assert of_one is not None
    assert (of_one.lines, of_one.of_heard) == (2, not swapped)
    unsure = hum.hum_of([replace(low, more=-5.0 * sign), high])  # may be of either
    assert unsure is not None


@pytest.mark.parametrize(("high_hz", "lines"), [(806.45, 1), (804.38, 2)])
def test_a_note_near_a_multiple_of_another_is_none_of_a_hum_with_it(high_hz: float, lines: int) -> None:
    """A bass note at 50.27 Hz and one 2 Hz beside its sixteenth, left by a room, once were two lines of one hum."""
    low, high = Line(50.27, 557.0, 1e-8, 1e-6, -1039.0), Line(high_hz, 152.0, 1e-8, 1e-8, -5.2)
    found = hum.hum_of([low, high])
    assert found is not None
    assert found.lines == lines


@pytest.mark.parametrize("note_hz", [50.0, 60.0, 100.0])
def test_a_held_note_of_the_music_is_no_hum(longer: dict[str, Clip], note_hz: float) -> None:
    """In both recordings, through loudspeakers 9 dB apart there."""
    samples = longer["drums"].samples + hummed(len(longer["drums"].samples), note_hz, -50.0)
    lean = apply((Biquad("high-pass", 60.0, q=0.7), Biquad("peaking", note_hz, gain_db=-6.0, q=2.0)), samples, RATE_HZ)
    assert hum_between("p", "two", Clip(samples, RATE_HZ), Clip(lean, RATE_HZ)) == []
    assert hum_between("p", "two", Clip(lean, RATE_HZ), Clip(samples, RATE_HZ)) == []


def decoded(samples: Samples, container: str, subtype: str, compression: float) -> Samples:
    """The samples through a real coder and back, in step; compression 0 is its highest rate, 1 its lowest."""
    file = io.BytesIO()
    padded = np.pad(samples, ((0, 4096), (0, 0)))
    how = {"compression_level": compression} | ({"bitrate_mode": "CONSTANT"} if container == "MP3" else {})
    with soundfile.SoundFile(file, "w", RATE_HZ, 2, format=container, subtype=subtype, **how) as sound:
        sound.write(padded)
    file.seek(0)
    got = soundfile.read(file, always_2d=True)[0]
    frames = RATE_HZ
    crossed = fftconvolve(got[: frames + 4000].sum(axis=1), samples[:frames].sum(axis=1)[::-1])
    late = int(np.argmax(np.abs(crossed))) - frames + 1
    return np.asarray(np.pad(got, ((max(0, -late), len(samples)), (0, 0)))[max(0, late) :][: len(samples)])


@pytest.mark.parametrize("compression", [0.7])
def test_pre_echo_of_a_coder_is_found_before_strokes(longer: dict[str, Clip], compression: float) -> None:
    """MP3 at 112 kbit/s: noise 8 dB and more before the strokes, where uncoded pairs rise by no more than 3."""
    samples = longer["drums"].samples
    coded = Clip(decoded(samples, "MP3", "MPEG_LAYER_III", compression), RATE_HZ)
    whole = Clip(samples, RATE_HZ)
    (finding,) = coding.coding("p", "two", whole, coded)
    assert finding.what.startswith("two begins to sound before its strokes")
    (other,) = coding.coding("p", "two", coded, whole)
    assert other.what.startswith("the reference begins to sound before its strokes")


def syllables(rng: np.random.Generator, length_s: float) -> Samples:
    """Bursts of noise that end at once, with pauses of 20 to 45 ms between them that hold almost nothing."""
    samples = 1e-6 * rng.standard_normal((round(length_s * RATE_HZ), 2))
    at = 4800
    while at < len(samples) - 12_000:
        frames = round(rng.uniform(0.08, 0.25) * RATE_HZ)
        burst = rng.standard_normal(frames) * np.sin(np.pi * np.arange(frames) / frames) ** 0.5
        samples[at : at + frames] += 0.1 * (burst * np.minimum(1.0, np.arange(frames, 0, -1) / 480))[:, None]
        at += frames + round(rng.uniform(0.02, 0.045) * RATE_HZ)
    return samples


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("filled_by", ["a room", "hiss", "a room and hiss"])
def test_what_fills_the_pauses_of_a_dry_voice_is_no_pre_echo(filled_by: str, seed: int) -> None:
    """Of a room what is left of the syllable before, which falls; of hiss the same as earlier."""
    rng = np.random.default_rng([16, seed])
    dry = syllables(rng, 6.0)
    filled = families.room(rng, dry, 0.3, 2.0, RATE_HZ) if "room" in filled_by else dry
    if "hiss" in filled_by:
        filled = filled + 10 ** (-65 / 20) * rng.standard_normal(dry.shape)
    one, two = Clip(dry, RATE_HZ), Clip(filled, RATE_HZ)
    assert coding.coding("p", "two", one, two) == coding.coding("p", "two", two, one) == []


def test_pre_echo_is_found_where_no_earlier_sound_covers_it(longer: dict[str, Clip]) -> None:
    """Half of the strokes begin while a cymbal rings and show none; the others tell MP3 at 160 kbit/s."""
    samples = longer["drums"].samples
    coded = Clip(decoded(samples, "MP3", "MPEG_LAYER_III", 0.5), RATE_HZ)
    assert kinds(coding.coding("p", "two", Clip(samples, RATE_HZ), coded)) == ["coding"]


@pytest.mark.parametrize(("piece", "compression"), [("drums", 0.9), ("spoken", 0.9), ("spoken", 0.8)])
def test_holes_of_a_coder_are_found(longer: dict[str, Clip], piece: str, compression: float) -> None:
    """MP3 at 56 kbit/s, and at 96 kbit/s where little masks them."""
    samples = longer[piece].samples
    coded = decoded(samples, "MP3", "MPEG_LAYER_III", compression)
    for one, two, who in ((samples, coded, "two"), (coded, samples, "the reference")):
        found = coding.coding("p", "two", Clip(one, RATE_HZ), Clip(two, RATE_HZ))
        assert f"{who} has holes in its treble" in found[0].what


def test_clean_pairs_have_neither_noise_nor_hum_nor_offset_nor_a_coder() -> None:
    """A sample of tests/benchmarks/clean_pairs.py: rooms, equalisers, a compressor, a remaster."""
    for pair in clean_pairs.pairs(11, 96):
        both = pair.reference, pair.other
        for look in (noise.noise, hum_between, coding.coding, production.bandwidth):
            assert look("p", "two", *both) == [], pair.family


@pytest.mark.parametrize(
    ("look", "seed", "number"),
    [
        (coding.coding, 2611, 60),  # strokes that all decay alike, in a room of 0.8 s
        (coding.coding, 2612, 98),  # a limiter's treble of held notes, between strokes
        (coding.coding, 9941, 98),  # notes driven into a limiter, heard behind strokes that die away
        (coding.coding, 10013, 428),  # strokes cut off at once, whose treble overdriving fills
        (production.bandwidth, 2611, 65),  # overdriven: notes that end at 13.5 kHz, most of the time
        (production.bandwidth, 10037, 76),  # overdriven: notes that end at 14 kHz, whose filter leaves little below
        (noise.noise, 2612, 51),  # a room's decay of held notes, steady for 20 s
        (noise.noise, 10007, 65),  # overdriven: held notes that pause nowhere
        (noise.noise, 9841, 43),  # overdriven: what held notes make beyond their last harmonics, but for the pauses
    ],
)
def test_what_a_room_or_a_remaster_leaves_is_neither_coded_nor_noise(look: Look, seed: int, number: int) -> None:
    pair = clean_pairs.pair(number, seed)
    assert look("p", "two", pair.reference, pair.other) == look("p", "two", pair.other, pair.reference) == []


def test_hiss_of_an_overdriven_recording_is_told_where_its_notes_leave_nearly_as_much() -> None:
    """Those notes leave -57 dBFS (A-weighted) from 5 to 10 kHz; the hiss has about -59 there."""
    pair = clean_pairs.pair(65, 10007)
    hiss = np.random.default_rng(1).normal(0, 10 ** (-55 / 20), pair.other.samples.shape)
    found = noise.noise("p", "two", pair.reference, Clip(pair.other.samples + hiss, RATE_HZ))
    assert [each.what[:20] for each in found] == ["two has steady noise"]


@pytest.mark.parametrize("number", [0, 2])
def test_what_overdrives_music_beyond_the_end_of_its_notes_is_no_end_of_a_file(number: int) -> None:
    """Their last harmonics end anywhere, 30 to 40 dB above what the one holds beyond and the other fills."""
    rng = np.random.default_rng([11, number])
    notes = families.played(families.score(rng, 5.0, drums=False), 5.0, RATE_HZ) * 0.3
    one, two = (Clip(families.noisy(rng, each, 90.0), RATE_HZ) for each in (notes, np.tanh(8 * notes) / 8))
    assert production.bandwidth("p", "two", one, two) == production.bandwidth("p", "one", two, one) == []


@pytest.mark.parametrize("swapped", [False, True])
def test_a_file_that_ends_is_told_where_a_coder_leaves_as_much_noise_below_its_end_as_overdriving(
    swapped: bool,
) -> None:
    """Music that falls by 36 dB an octave from 6 kHz; noise as strong as it in each line, none from 12 kHz."""
    rng = np.random.default_rng(12)
    swells = 0.05 + np.square(np.sin(np.pi * np.arange(4 * RATE_HZ) / RATE_HZ))
    playing = sosfilt(butter(6, 6000, fs=RATE_HZ, output="sos"), rng.standard_normal((4 * RATE_HZ, 2)), axis=0)
    playing *= 0.1 * swells[:, None]
    freqs, _, lines = stft(playing, RATE_HZ, nperseg=2048, axis=0)
    coded = lines * (0.5 + rng.standard_normal(lines.shape)) * (freqs < 12_000).reshape(-1, 1, 1)
    _, coded = istft(coded, RATE_HZ, nperseg=2048, time_axis=2, freq_axis=0)
    pair = [families.noisy(rng, each[: 4 * RATE_HZ], 110.0) for each in (playing, coded.reshape(2, -1).T)]
    pair = pair[::-1] if swapped else pair
    (finding,) = production.bandwidth("p", "two", *(Clip(each, RATE_HZ) for each in pair))
    assert finding.what.startswith(("the reference" if swapped else "two") + " holds next to nothing above 1")


def test_sound_above_20_khz_is_told_and_is_no_giveaway() -> None:
    rng = np.random.default_rng(4)
    strokes = rng.standard_normal((192_000, 2)) * np.exp(-(np.arange(192_000) % 24_000) / 3000)[:, None] * 0.1
    spectrum = np.fft.rfft(strokes, axis=0)
    spectrum[np.fft.rfftfreq(len(strokes), 1 / 96_000) > 20_000] = 0
    clips = {"one": Clip(strokes, 96_000), "two": Clip(np.fft.irfft(spectrum, axis=0), 96_000)}
    (note,) = production.beyond_hearing("p", clips)
    assert note == "p: one holds sound above 20 kHz, two not; nobody hears it by itself, so it is no giveaway"
    assert production.beyond_hearing("p", {"one": clips["one"], "three": clips["one"]}) == []
    assert "format" not in kinds(inspection.inspect("p", clips))


@pytest.mark.parametrize("hiss_dbfs", [-60.0, -50.0])
def test_hiss_that_covers_sound_above_20_khz_does_not_make_it_missing(hiss_dbfs: float) -> None:
    rng = np.random.default_rng(4)
    bursts = np.exp(-(np.arange(192_000) % 24_000) / 3000)[:, None] * 10 ** (-65 / 20)
    strokes = rng.standard_normal((192_000, 2)) * bursts
    noisy = strokes + rng.standard_normal(strokes.shape) * 10 ** (hiss_dbfs / 20)
    clips = {"one": Clip(strokes, RATE_HZ), "two": Clip(noisy, RATE_HZ)}
    assert production.beyond_hearing("p", clips) == []


def test_sound_above_20_khz_that_is_fainter_in_one_is_not_missing_there() -> None:
    rng = np.random.default_rng(4)
    strokes = (
        rng.standard_normal((192_000, 2)) * np.exp(-(np.arange(192_000) % 24_000) / 3000)[:, None] * 10 ** (-70 / 20)
    )
    clips = {"one": Clip(strokes, RATE_HZ), "two": Clip(strokes * 10 ** (-6 / 20), RATE_HZ)}
    assert production.beyond_hearing("p", clips) == []


@pytest.mark.parametrize("held", [1.0, 0.0])
def test_a_passage_cut_within_a_low_note_holds_nothing_above_20_khz(held: float) -> None:
    """Its ends are cut at full strength; one of two recordings has noise that comes and goes up there, at -115 dBFS."""
    t = np.arange(192_000) / RATE_HZ
    note = np.stack([0.5 * np.cos(2 * np.pi * 100.3 * t)] * 2, axis=1)
    noise = np.random.default_rng(4).standard_normal(note.shape) * 1e-6
    swelling = note + noise * (3 + 2.9 * np.cos(2 * np.pi * 2 * t))[:, None]
    clips = {"one": Clip(swelling, RATE_HZ), "two": Clip(held * note + noise, RATE_HZ)}
    assert production.beyond_hearing("p", clips) == []


@pytest.mark.parametrize("level_dba", [-50.0, -58.0])
@pytest.mark.parametrize(
    ("seed", "slope", "swapped"), [(0, 1.5, False), (1, 2.5, True), (3, 2.5, False), (4, 1.5, True)]
)
def test_hiss_under_held_notes_that_hardly_move_is_found_of_the_one_that_has_it(
    seed: int, slope: float, swapped: bool, level_dba: float
) -> None:
    music = ensemble(seed, slope)
    heard = [music, apply(MILD, music, RATE_HZ)]
    heard[int(not swapped)] = heard[int(not swapped)] + hiss(music.shape, level_dba)
    (found,) = noise.noise("p", "two", *(Clip(each, RATE_HZ) for each in heard))
    assert found.what.startswith("the reference has " if swapped else "two has ")
    told = re.search(r"noise of (-\d+) dBFS", found.what)
    assert told is not None
    assert float(told[1]) == pytest.approx(level_dba, abs=3.5)  # of the bands that are told of


def test_a_noise_that_is_told_is_not_said_to_be_too_faint_to_be_judged() -> None:
    """In a room, where others as faint may be missed."""
    music = 0.4 * families.played(families.score(np.random.default_rng(3), 5.0), 5.0, RATE_HZ)
    wet = families.room(np.random.default_rng(3), music, 0.3, 0.0, RATE_HZ)
    clips = {"one": Clip(music, RATE_HZ), "two": Clip(wet + hiss(wet.shape, -58.0), RATE_HZ)}
    (found,) = noise.noise("p", "two", *clips.values())
    level, limit = (
        re.search(rf"steady noise {words} (-\d+) dBFS", " ".join(said))
        for words, said in (("of", [found.what]), ("fainter than", unjudged.unjudged("p", clips)))
    )
    assert level is not None
    assert limit is not None
    assert float(level[1]) < float(limit[1])  # both sentences of one passage
    (note,) = unjudged.unjudged("p", clips, {found.kind})
    assert "noise" not in note
    assert "width" in note


def test_a_noise_that_held_notes_in_a_room_hide_is_no_louder_than_the_note_says() -> None:
    music, level_dba = ensemble(1, 1.5), -46.0
    wet = families.room(np.random.default_rng(3), music, 0.8, 0.0, RATE_HZ)
    band = butter(4, (1000, 2000), "bandpass", fs=RATE_HZ, output="sos")
    hidden = at_level(np.asarray(sosfilt(band, hiss(wet.shape, -40.0), axis=0)), level_dba)
    one, two = Clip(music, RATE_HZ), Clip(wet + hidden, RATE_HZ)
    assert noise.noise("p", "two", one, two) == []
    told = re.search(
        r"steady noise fainter than (-\d+) dBFS", " ".join(unjudged.unjudged("p", {"one": one, "two": two}))
    )
    assert told is not None
    assert float(told[1]) >= level_dba


@pytest.mark.parametrize(("rate_kbit", "end_hz"), [(96, 17_000), (128, 17_000)])
def test_what_an_aac_coder_takes_away_above_its_end_is_told_of_music_that_falls_towards_it(
    rate_kbit: int, end_hz: int, tmp_path: Path
) -> None:
    """FFmpeg's own coder; the music falls by 7 dB across the end, which is less than overdriven notes do there."""
    music = families.played(families.score(np.random.default_rng(2), 8.0), 8.0)
    whole = Clip(0.4 * music / np.abs(music).max(), RATE_HZ)
    writing.write(tmp_path / "whole.wav", whole)
    for given, made in (("whole.wav", "coded.m4a"), ("coded.m4a", "coded.wav")):
        bits = ("-b:a", f"{rate_kbit}k", "-c:a", "aac") if made == "coded.m4a" else ()
        subprocess.run(["ffmpeg", "-v", "error", "-i", tmp_path / given, *bits, tmp_path / made], check=True)
    coded = reading.read(tmp_path / "coded.wav")
    count = min(coded.frames, whole.frames)
    one, two = Clip(whole.samples[:count], RATE_HZ), Clip(coded.samples[:count], RATE_HZ)
    (found,) = production.bandwidth("p", "two", one, two)
    told = re.search(r"^two holds next to nothing above ([\d.]+) kHz", found.what)
    assert told is not None, found.what
    assert 1000 * float(told[1]) == pytest.approx(end_hz, rel=0.06)  # a twelfth of an octave


def test_a_coder_that_switches_off_bands_below_its_end_in_many_moments_is_told_as_one(tmp_path: Path) -> None:
    """MP3 of 64 kbit/s ends near 11 kHz, and there below in some moments only."""
    rate_hz, rng = 44_100, np.random.default_rng(3)
    music = families.played(families.score(rng, 5.0), 5.0, rate_hz)
    whole = Clip(0.4 * music / np.abs(music).max(), rate_hz)
    writing.write(tmp_path / "whole.wav", whole)
    for given, made, bits in (("whole.wav", "coded.mp3", ("-b:a", "64k")), ("coded.mp3", "coded.wav", ())):
        subprocess.run(["ffmpeg", "-v", "error", "-i", tmp_path / given, *bits, tmp_path / made], check=True)
    coded = reading.read(tmp_path / "coded.wav")
    count = min(coded.frames, whole.frames)
    clips = {"one": Clip(whole.samples[:count], rate_hz), "two": Clip(coded.samples[:count], rate_hz)}
    told = inspection.inspect("p", clips)
    assert set(kinds(told)) <= {"format", "level"}  # what it lacks is loudness, too
    found = next(each for each in told if each.kind == "format")
    assert found.what.startswith("two holds next to nothing above 11.3 kHz")


@pytest.mark.parametrize("swapped", [False, True])
def test_held_notes_that_were_cut_off_are_no_lossy_file_of_the_whole_ones(swapped: bool) -> None:
    """Notes that end at 15 kHz, and the same cut off 4 dB below their peak, which fills what lies beyond."""
    rng = np.random.default_rng([51, 4])
    notes = held_notes(rng, 15_000.0, 1.0)
    ceiling = np.abs(notes).max() * 10 ** (-4 / 20)
    noise_floor = 1e-5 * rng.standard_normal((2, *notes.shape))
    both = (
        at_level(each, -23.0) + own
        for each, own in zip((notes, np.clip(notes, -ceiling, ceiling)), noise_floor, strict=True)
    )
    one, two = (Clip(each, RATE_HZ) for each in both)
    pair = (two, one) if swapped else (one, two)
    assert production.bandwidth("p", "two", *pair) == []
