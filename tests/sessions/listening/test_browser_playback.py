"""What a browser is given of a trial tells no key; what it tells is taken once, and refused where it cannot be."""

from __future__ import annotations

import struct
import wave
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from audio import browser_sound
from audio.browser_sound import Reading
from audio.clip import Clip
from audio.engine.playback import Audition, Faults, Position
from audio.errors import DeviceError, FileError
from audio.files import wav_bytes
from audio.levels.loudness import integrated_lufs
from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import browser_playback
from sessions.listening.browser_playback import BrowserPlayback
from sessions.listening.browser_records import BrowserOutput, BrowserReport, BrowserTrial
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish

RATE_HZ = 44100


def noise(seed: int, frames: int = 4410, channels: int = 2) -> np.ndarray:
    return (0.1 * Generator(PCG64(seed)).standard_normal((frames, channels))).astype(np.float32)


def given(stimuli: list[np.ndarray], browser_hz: int = 48000) -> tuple[BrowserPlayback, BrowserTrial]:
    playback = BrowserPlayback()
    playback.open(BrowserOutput(browser_hz))
    playback.load(stimuli, RATE_HZ)
    assert playback.trial is not None
    return playback, playback.trial


def as_played(playback: BrowserPlayback, trial: BrowserTrial) -> list[Reading]:
    """What a browser reads that changes nothing."""
    return [asread(playback.file(name) or b"") for name in trial.names]


def asread(body: bytes) -> Reading:
    values = wav_bytes.samples(body)
    rate_hz = struct.unpack_from("<I", body, 24)[0]
    return browser_sound.BrowserSound(rate_hz, values.shape[0], values.shape[1], body).reading()


def test_the_dither_of_x_has_nothing_in_common_with_that_of_its_twin_or_of_the_same_trial_again() -> None:
    one = noise(1)
    playback, trial = given([one, noise(2), one], RATE_HZ)
    residues = [wav_bytes.samples(playback.file(name) or b"") - one for name in (trial.names[0], trial.names[2])]
    playback.load([one, noise(2), one], RATE_HZ)
    assert playback.trial is not None
    residues += [wav_bytes.samples(playback.file(playback.trial.names[0]) or b"") - one]
    alike = np.corrcoef([residue.ravel() for residue in residues])
    # of so many independent numbers a correlation has a standard deviation of 1 / sqrt(n)
    assert np.max(np.abs(alike - np.eye(3))) < 5 / np.sqrt(one.size)
    # triangular dither of +-1 step on what lies on the steps: a variance of 1/6 of a step, and rounding's 1/12
    np.testing.assert_allclose(np.std(residues) * 2.0**23, np.sqrt(1 / 6 + 1 / 12), rtol=0.05)


def test_names_follow_from_a_secret_and_end_with_their_trial() -> None:
    stimuli = [noise(1), noise(2)]
    made = [given(stimuli) for _ in range(2)]
    assert not set(made[0][1].names) & set(made[1][1].names)
    playback, before = made[0]
    playback.load(stimuli, RATE_HZ)
    assert playback.trial is not None
    assert not set(before.names) & set(playback.trial.names)
    assert [playback.file(name) for name in before.names] == [None, None]
    assert playback.file("../casebook.db") is None


@pytest.mark.parametrize("channels", [1, 2])
def test_a_file_is_a_wav_that_others_read(channels: int) -> None:
    clip = Clip(noise(3, channels=channels).astype(float), 48000)
    body = wav_bytes.encoded(clip, Generator(PCG64(1)))
    with wave.open(BytesIO(body)) as read:
        assert (read.getframerate(), read.getnchannels(), read.getsampwidth()) == (48000, channels, 3)
        frames = read.readframes(read.getnframes())
    whole = [int.from_bytes(frames[at : at + 3], "little", signed=True) for at in range(0, len(frames), 3)]
    np.testing.assert_allclose(np.reshape(whole, (-1, channels)) / 2**23, clip.samples, atol=1.6 * 2.0**-23)
    np.testing.assert_array_equal(wav_bytes.samples(body), np.reshape(whole, (-1, channels)) / 2**23)


def test_more_channels_and_what_would_clip_are_refused() -> None:
    with pytest.raises(FileError, match="1 or 2 channels"):
        given([noise(1, channels=4)])
    with pytest.raises(FileError, match="would clip"):
        given([10 * noise(1)])


def test_the_path_to_the_browsers_rate_keeps_the_level() -> None:
    clip = Clip(noise(1, 3 * RATE_HZ).astype(float), RATE_HZ)
    low = Clip(np.cumsum(clip.samples, axis=0) / 500, RATE_HZ)  # music has little treble; white noise is mostly treble
    made = wav_bytes.samples(browser_sound.made(low, 48000, 1).body)
    before, after = integrated_lufs(low), integrated_lufs(Clip(made, 48000))
    assert before is not None
    assert after is not None
    assert abs(after - before) < 0.01


def test_before_the_page_has_started_its_sound_no_trial_is_loaded() -> None:
    with pytest.raises(DeviceError, match="has not started its sound"):
        BrowserPlayback().load([noise(1)], RATE_HZ)


def test_real_gear_is_not_played_by_a_browser(swapped: Casebook) -> None:
    drafting.draft(swapped, Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=8, operator="Grace"), "gear")
    with pytest.raises(ListenError, match="are real gear"):
        browser_playback.check(seals.seal(swapped, "gear").plan)


def test_two_channels_are_not_mixed_into_one() -> None:
    playback = BrowserPlayback()
    playback.open(BrowserOutput(48000, channels=1))
    with pytest.raises(DeviceError, match="plays on one channel"):
        playback.load([noise(1)], RATE_HZ)
    playback.load([noise(1, channels=1)], RATE_HZ)
    assert playback.trial is not None


def test_a_browser_that_plays_something_else_is_refused() -> None:
    playback, trial = given([noise(1), noise(2)])
    right = as_played(playback, trial)
    assert playback.read(trial.number, right)
    quieter = [replace(one, crc32=0, k_power=tuple(0.99 * each for each in one.k_power)) for one in right]
    with pytest.raises(DeviceError, match=r"its level is -0\.044 dB off"):
        playback.read(trial.number, quieter)
    dull = [replace(one, crc32=0, slope_power=tuple(0.9 * each for each in one.slope_power)) for one in right]
    with pytest.raises(DeviceError, match=r"its treble is -0\.458 dB off"):
        playback.read(trial.number, dull)
    with pytest.raises(DeviceError, match="made 4799 frames"):
        playback.read(trial.number, [replace(one, frames=4799) for one in right])
    with pytest.raises(DeviceError, match="another sound"):
        playback.read(trial.number, right[::-1])
    no_number = [replace(one, crc32=0, k_power=(float("nan"),) * 2) for one in right]
    with pytest.raises(DeviceError, match="another sound"):
        playback.read(trial.number, no_number)
    with pytest.raises(DeviceError, match="not on offer"):
        playback.read(trial.number - 1, right)
    rounded = [replace(one, crc32=0, k_power=tuple(1.001 * each for each in one.k_power)) for one in right]
    assert not playback.read(trial.number, rounded)  # within the tolerance, and said to be not to the bit


def test_a_report_told_twice_counts_once_and_comes_in_frames_of_the_passage() -> None:
    playback, trial = given([noise(1), noise(2)])
    playback.read(trial.number, as_played(playback, trial))
    first = BrowserReport(trial.number, 1, 2400, True, 0, ((0, 0, 1200),), underruns=1)
    for _ in range(2):
        playback.told(first)
    playback.told(replace(first, auditions=((0, 0, 1200), (1, 1200, 4800))))  # the answer to the first was lost
    assert playback.auditions() == [Audition(0, 0, 1102), Audition(1, 1102, 4410)]
    assert playback.position() == Position(1, 2205, True)
    assert playback.faults() == Faults(underruns=1)
    playback.told(replace(first, trial=trial.number - 1, underruns=9))  # of an earlier trial
    assert playback.faults() == Faults(underruns=1)
    playback.read(trial.number, as_played(playback, trial))  # the page was loaded again
    playback.told(replace(first, told_before=0, auditions=((1, 0, 480),), underruns=1, stalls=2))
    assert playback.auditions() == [Audition(1, 0, 441)]
    assert playback.faults() == Faults(underruns=2, stalls=2)
    with pytest.raises(DeviceError, match="left out"):
        playback.told(replace(first, told_before=7))


def test_what_cannot_have_been_heard_is_refused() -> None:
    playback, trial = given([noise(1), noise(2)])
    with pytest.raises(DeviceError, match="not given"):
        playback.told(BrowserReport(trial.number, 0, 0, True))  # before it read them
    playback.read(trial.number, as_played(playback, trial))
    with pytest.raises(DeviceError, match="not given"):
        playback.told(BrowserReport(trial.number, 2, 0, True))


def test_a_loop_comes_to_the_page_in_its_own_frames() -> None:
    playback, trial = given([noise(1), noise(2)])
    assert (trial.first, trial.end) == (0, 4800)
    playback.loop(441, 2205)
    assert playback.trial == replace(trial, first=480, end=2400)
    playback.loop(0, 4410)
    assert playback.trial == trial
