"""Silences of 0.1 s and more, and other short sounds than clicks, planted in one of two recordings, either way round.

What was planted, where and in which of them is known by construction.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from audio.clip import Clip
from audio.giveaways import gaps, inspection, interruptions
from audio.giveaways.filter_residual import Explained, explained
from audio.giveaways.findings import Finding
from audio.giveaways.moments import Moment
from tests import families
from tests.benchmarks import clean_pairs

RATE_HZ = 48_000
Samples = NDArray[np.float64]


def found_between(poor: Samples, good: Samples, swapped: bool = False) -> list[Finding]:
    """What is found; the poor recording is called two where they are swapped."""
    pair = (good, poor) if swapped else (poor, good)
    return inspection.inspect("p", {"one": Clip(pair[0], RATE_HZ), "two": Clip(pair[1], RATE_HZ)})


def silenced(samples: Samples, at_s: float, length_ms: int, left: float = 0.0) -> Samples:
    result = samples.copy()
    result[round(at_s * RATE_HZ) :][: length_ms * 48] *= left
    return result


def loudest_s(samples: Samples, length_ms: int) -> float:
    """Where a stretch so long is loudest, a second from the ends, to 10 ms."""
    power = np.cumsum(np.square(samples).sum(axis=1))
    energy = power[length_ms * 48 :] - power[: -length_ms * 48]
    return round((RATE_HZ + int(np.argmax(energy[RATE_HZ:-RATE_HZ]))) / RATE_HZ, 2)


def holes_told(finding: Finding) -> list[tuple[float, float]]:
    """Where the holes of a finding begin and how long they are, in seconds."""
    return [
        (60 * int(minutes) + float(rest), float(length) / (1000 if unit == "ms" else 1))
        for minutes, rest, length, unit in re.findall(r"(\d+):(\d\d\.\d+) for ([\d.]+) (ms|s) ", finding.what)
    ]


@pytest.mark.parametrize(
    ("piece", "length_ms", "left", "swapped"),
    [
        ("strings", 110, 0.0, False),
        ("drums", 200, 0.001, True),
        ("strings", 400, 0.001, True),
        ("drums", 1500, 0.0, False),
    ],
)
def test_a_long_silence_is_a_dropout_of_the_recording_that_has_it(
    longer: dict[str, Clip], piece: str, length_ms: int, left: float, swapped: bool
) -> None:
    samples = longer[piece].samples
    at_s = loudest_s(samples, length_ms)
    other = families.equaliser(np.random.default_rng(2), samples, RATE_HZ)
    found = found_between(silenced(other, at_s, length_ms, left), samples, swapped)
    (finding,) = (each for each in found if each.kind == "dropout")
    assert " falls silent while the other plays on (once, " in finding.what
    assert finding.what.startswith("two ") == swapped
    assert " or " not in finding.what.split(" falls ")[0]
    assert "in channels 1 and 2" in finding.what
    ((start_s, length_s),) = holes_told(finding)
    # drums may pause where it begins or ends
    assert at_s - 0.01 <= start_s <= at_s + length_s
    assert start_s + length_s <= at_s + length_ms / 1000 + 0.01
    assert piece == "drums" or (start_s, length_s) == pytest.approx((at_s, length_ms / 1000), abs=0.01)
    assert {each.kind for each in found} <= {"dropout", "level"}


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("dry", [False, True])
def test_a_long_silence_in_a_room_is_told_with_whose_it_is(longer: dict[str, Clip], dry: bool, swapped: bool) -> None:
    length_ms = 1000 if swapped else 200
    samples = longer["strings"].samples
    wet = families.room(np.random.default_rng(3), samples, 0.3, 6.0, RATE_HZ)
    poor, good = (samples, wet) if dry else (wet, samples)
    found = found_between(silenced(poor, 2.0, length_ms), good, swapped)
    (finding,) = (each for each in found if each.kind == "dropout")
    assert " falls silent while the other plays on (once, " in finding.what
    assert finding.what.startswith("two ") == swapped
    assert " or " not in finding.what.split(" falls ")[0]
    ((start_s, length_s),) = holes_told(finding)
    assert (start_s, length_s) == pytest.approx((2.0, length_ms / 1000), abs=0.02)
    assert "click" not in {each.kind for each in found}


@pytest.mark.parametrize("family", ["equaliser", "room"])
def test_a_pause_of_the_music_is_none(longer: dict[str, Clip], family: str) -> None:
    """Silent in both, but for what a room rings on, and for noise of one of them."""
    samples = silenced(longer["strings"].samples, 2.0, 600)
    rng = np.random.default_rng(4)
    other = (
        families.equaliser(rng, samples, RATE_HZ)
        if family == "equaliser"
        else families.room(rng, samples, 0.3, 0.0, RATE_HZ)
    )
    noise = 10 ** (-45 / 20) * np.sqrt(np.mean(np.square(other))) * rng.standard_normal(other.shape)
    for made in (other, other + noise):
        found = found_between(samples, made)
        assert not {each.kind for each in found} & {"dropout", "click", "edit"}


@pytest.mark.parametrize("number", [16, 27])
def test_what_a_room_of_08_s_rings_on_into_a_pause_is_no_sound_of_its_own(number: int) -> None:
    pair = clean_pairs.pair(number, 9101)
    assert interruptions.interruptions("p", "two", pair.reference, pair.other, (0, 1))[0] == []


def test_a_silence_that_fills_a_phrase_between_pauses_accuses_neither(longer: dict[str, Clip]) -> None:
    """It may be a phrase that only the other holds."""
    samples = longer["strings"].samples
    phrases = silenced(silenced(samples, 1.6, 400), 2.4, 400)  # 2.0 to 2.4 s sound between two pauses
    for swapped in (False, True):
        found = found_between(silenced(phrases, 2.0, 400), phrases, swapped)
        told = [each.what for each in found if each.kind in ("dropout", "click")]
        assert len(told) == 1
        assert told[0].startswith("two or ")
        assert " holds a sound where the other is silent (once, 0:02.000 for 400 ms" in told[0]


def coughed(samples: Samples, at_s: float, size: tuple[float, float], length_ms: int = 120) -> Samples:
    """Noise from 400 Hz to 2.5 kHz, so large in each channel."""
    length = 48 * length_ms
    noise = np.random.default_rng(1).standard_normal(length)
    cough = sosfilt(butter(2, [400, 2500], "band", fs=RATE_HZ, output="sos"), noise) * np.hanning(length)
    result = samples.copy()
    result[round(at_s * RATE_HZ) :][:length] += (cough / np.abs(cough).max())[:, None] * np.array(size)
    return result


@pytest.mark.parametrize(
    ("size", "told", "at_s", "swapped"),
    [
        ((0.2, 0.2), "in channels 1 and 2", 2.4, False),
        ((0.2, 0.06), "in channels 1 and 2", 3.1, True),
        ((0.2, 0.06), "in channels 1 and 2", 2.4, False),
        ((0.0, 0.2), "in channel 2", 3.1, True),
    ],
)
def test_a_cough_is_a_short_sound_in_all_channels_that_hold_it(
    longer: dict[str, Clip], size: tuple[float, float], told: str, at_s: float, swapped: bool
) -> None:
    samples = 0.3 * longer["drums"].samples
    found = found_between(coughed(samples, at_s, size), samples, swapped)
    (finding,) = (each for each in found if each.kind == "click")
    assert " has a click, pop or other short sound, the other has not (once, " in finding.what
    assert finding.what.startswith("two has ") == swapped
    assert told in finding.what
    assert [(pytest.approx(at_s, abs=0.05), pytest.approx(0.12, abs=0.06))] == holes_told(finding)


@pytest.mark.parametrize(
    ("number", "length_ms", "at_s", "in_wet"),
    [(0, 100, 3.235, True), (6, 200, 3.041, True), (12, 150, 2.957, True), (23, 200, 3.295, False)],
)
def test_a_cough_in_a_pause_with_abrupt_ends_is_no_silence_of_the_recording_without_it(
    number: int, length_ms: int, at_s: float, in_wet: bool
) -> None:
    """A room of 0.3 s rings on into the pause from 2.9 to 3.5 s, until the cough; one ends as the music goes on."""
    rng = np.random.default_rng([3301 if in_wet else 3303, number])
    events = families.score(rng, 5.0, drums=number % 3 != 0, tonal=number % 3 != 1)
    dry = silenced(silenced(families.played(events, 5.0, RATE_HZ), 1.2, 600), 2.9, 600)
    wet = families.room(rng, dry, 0.3, 6.0, RATE_HZ)
    size = 0.3 * float(np.abs(wet if in_wet else dry).max())
    one, two = dry, wet
    if in_wet:
        two = coughed(wet, at_s, (size, size), length_ms)
    else:
        one = coughed(dry, at_s, (size, size), length_ms)
    one, two = (families.noisy(rng, each, 90.0) for each in (one, two))
    told = interruptions.interruptions("p", "two", Clip(one, RATE_HZ), Clip(two, RATE_HZ), (0, 1))[0]
    who = "two" if in_wet else "the reference"
    assert [each.kind for each in told] == ["click"]
    assert told[0].what.startswith(f"{who} has a click, pop or other short sound, the other has not (once, ")
    ((start_s, length_s),) = holes_told(told[0])
    assert start_s + length_s / 2 == pytest.approx(at_s + length_ms / 2000, abs=0.06)


@pytest.mark.parametrize(
    ("seed", "at_s", "length_ms", "told"),
    [
        (3, 4.2, 160, "the reference falls silent while the other plays on (once, 0:04.200 for "),
        (2, 1.73, 400, "two or the reference holds a sound where the other is silent (once, "),
    ],
)
def test_a_syllable_that_one_lacks_is_no_sound_of_the_room_in_another_channel(
    longer: dict[str, Clip], seed: int, at_s: float, length_ms: int, told: str
) -> None:
    """Words begin and end in it; in one channel a syllable of them stands between pauses."""
    samples = longer["spoken"].samples
    wet = families.room(np.random.default_rng(seed), samples, 0.3, 6.0, RATE_HZ)
    clips = Clip(silenced(samples, at_s, length_ms), RATE_HZ), Clip(wet, RATE_HZ)
    (finding,), _ = interruptions.interruptions("p", "two", *clips, (0, 1))
    assert finding.what.startswith(told)
    assert "in channels 1 and 2" in finding.what


def test_of_two_gaps_one_in_each_recording_neither_hides_the_other(longer: dict[str, Clip]) -> None:
    """20 ms each in 2 s, the other in a room of 0.3 s: what one leaves unexplained is not what is usual."""
    dry = longer["chords"].samples[: 2 * RATE_HZ]
    wet = families.room(np.random.default_rng(9), dry, 0.3, 6.0, RATE_HZ)
    views = explained(silenced(dry, 1.33, 20)[:, 0], silenced(wet, 1.0, 20)[:, 0], RATE_HZ)
    found = [each for view in views for each in gaps.find_gaps(view, RATE_HZ, 0)]
    assert {(round(each.at_s, 1), each.others) for each in found if each.others is not None} == {
        (1.0, True),
        (1.3, False),
    }


@pytest.mark.parametrize(("seed", "swapped"), [(2, False), (3, True)])
def test_a_gap_filled_with_hiss_is_of_the_recording_that_has_it(seed: int, swapped: bool) -> None:
    """40 ms where the music is loudest, and over all of that recording hiss of -46 dBFS."""
    rng = np.random.default_rng(seed)
    good = families.played(families.score(rng, 4.0, drums=False), 4.0, RATE_HZ)
    good *= 0.5 / np.abs(good).max()
    poor = silenced(good, loudest_s(good, 40), 40) + 10 ** (-46 / 20) * rng.standard_normal(good.shape)
    pair = (poor, good) if swapped else (good, poor)
    (finding,), _ = interruptions.interruptions("p", "two", *(Clip(each, RATE_HZ) for each in pair), (0, 1))
    assert finding.what.startswith(("the reference" if swapped else "two") + " breaks off or repeats a bit, the other ")


@pytest.mark.parametrize("beside", [0.0, 0.3])
def test_a_stroke_that_is_fainter_from_a_pause_to_a_pause_breaks_off_nowhere(beside: float) -> None:
    """A compressor held it down, or did not as it did all others: 9 dB, for 60 ms; beside music that is a gap."""
    rng = np.random.default_rng(5)
    music = rng.standard_normal(2 * RATE_HZ).astype(np.float32)
    about = slice(round(0.8 * RATE_HZ), round(1.3 * RATE_HZ))
    stroke = slice(RATE_HZ, RATE_HZ + round(0.06 * RATE_HZ))
    music[about] *= 0.001 + beside
    music[stroke] = rng.standard_normal(stroke.stop - stroke.start)
    fainter = music.copy()
    fainter[stroke] *= 10 ** (-9 / 20)
    for heard, foretold in ((fainter, music), (music, fainter)):
        found = gaps.find_gaps(Explained(heard, foretold, foretold), RATE_HZ, 0)
        assert [round(each.at_s, 2) for each in found] == ([1.03] if beside else [])


def test_where_length_and_level_tell_a_gap_of_different_recordings_neither_is_accused() -> None:
    own, others = (Moment(1.0, 0.04, 0, 1.0, whose) for whose in (False, True))
    unknown = Moment(1.0, 0.04, 0, 1.0, None)
    owner = interruptions.owner
    assert owner(False, own, []) is False
    assert owner(False, unknown, [others]) is False
    assert owner(False, others, [others]) is True  # both ways tell it by its level
    assert owner(False, others, [own]) is None
    assert owner(False, others, []) is None
    assert owner(None, own, []) is None


def test_a_dropout_is_kept_under_the_name_of_the_recording_that_has_it(longer: dict[str, Clip]) -> None:
    samples = longer["strings"].samples
    for swapped in (False, True):
        found = found_between(silenced(samples, 2.0, 40), samples, swapped)
        (finding,) = (each for each in found if each.kind == "dropout")
        owner, good = ("two", "one") if swapped else ("one", "two")
        assert finding.what.startswith(f"{owner} breaks off ")
        assert (finding.setup, finding.against) == (owner, good)


@pytest.mark.parametrize(("offset", "swapped"), [(0.001, False), (0.003, True)])
def test_a_silence_of_a_recording_with_an_offset_is_its_own_dropout_and_no_sound_of_the_other(
    longer: dict[str, Clip], offset: float, swapped: bool
) -> None:
    """Falling silent there is a step away from the offset, which is taken off everywhere else."""
    samples = longer["strings"].samples + offset
    at_s = loudest_s(samples - offset, 150)
    other = families.equaliser(np.random.default_rng(2), samples - offset, RATE_HZ) + offset
    found = found_between(silenced(other, at_s, 150), samples, swapped)
    (finding,) = (each for each in found if each.kind == "dropout")
    assert finding.setup == ("two" if swapped else "one")
    ((told_s, long_s),) = holes_told(finding)
    assert (told_s, long_s) == pytest.approx((at_s, 0.15), abs=0.011)
    assert not [each for each in found if each.kind == "click"]
