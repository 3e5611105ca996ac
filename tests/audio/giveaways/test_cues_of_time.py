"""Faults of time planted in real music and speech, also behind a loudspeaker and in a room, either way round.

What was planted, and where, is known by construction; nothing else may be said beside it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.fft import next_fast_len
from scipy.interpolate import make_interp_spline

from audio.clip import Clip
from audio.giveaways import edits, inspection, interruptions, timing
from audio.giveaways.findings import Finding
from audio.giveaways.moments import Moment
from audio.giveaways.performance import performance
from audio.giveaways.repair import propose
from audio.giveaways.wiring import Wiring, wiring
from demo_tracks import loudspeakers
from tests import families
from tests.benchmarks import clean_pairs

RATE_HZ = 48_000
Samples = NDArray[np.float64]


def found_between(reference: Samples, other: Samples) -> list[Finding]:
    return inspection.inspect("p", {"one": Clip(reference, RATE_HZ), "two": Clip(other, RATE_HZ)})


def only(found: list[Finding], kind: str) -> Finding:
    assert [each.kind for each in found] == [kind]
    return found[0]


def one_late(samples: Samples, frames: float, channel: int = 1) -> Samples:
    """One channel later by a broken number of frames, by the shift theorem."""
    size = next_fast_len(len(samples) + 16_384, real=True)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)
    result = samples.copy()
    late = np.fft.irfft(np.fft.rfft(np.pad(samples[:, channel], (8192, 0)), size) * turn, size)
    result[:, channel] = late[8192:][: len(samples)]
    return result


def without(samples: Samples, at: int, frames: int) -> Samples:
    """A stretch cut out; what follows moves up, and the end stays silent no longer than that."""
    return np.concatenate([samples[:at], samples[at + frames :]])


def places(finding: Finding) -> list[float]:
    return [60 * int(minutes) + float(rest) for minutes, rest in re.findall(r"(\d+):(\d\d\.\d+)", finding.what)]


@pytest.mark.parametrize(
    ("piece", "late_ms", "channel"), [("drums", 0.11, 0), ("voice", 0.2, 1), ("spoken", 20.0, 0), ("strings", -3.0, 1)]
)
def test_a_late_channel_is_found_to_some_microseconds(
    longer: dict[str, Clip], piece: str, late_ms: float, channel: int
) -> None:
    samples = longer[piece].samples
    finding = only(found_between(samples, one_late(samples, late_ms * 48, channel)), "channel-delay")
    assert finding.measured == pytest.approx(late_ms * (1 if channel else -1), abs=0.003)
    assert finding.mend is None


@pytest.mark.parametrize("piece", ["drums", "spoken"])
def test_a_late_channel_behind_another_loudspeaker(longer: dict[str, Clip], piece: str) -> None:
    samples = longer[piece].samples
    other = loudspeakers.render("sallow", samples, RATE_HZ)
    found = wiring(Clip(samples, RATE_HZ), Clip(one_late(other, 0.11 * 48), RATE_HZ))
    assert found is not None
    assert found.skews_s[1] - found.skews_s[0] == pytest.approx(0.11e-3, abs=5e-6)


@pytest.mark.parametrize("piece", ["drums", "strings"])
def test_a_smaller_delay_between_channels_is_none(longer: dict[str, Clip], piece: str) -> None:
    samples = longer[piece].samples
    assert found_between(samples, one_late(samples, 0.09 * 48)) == []


@pytest.mark.parametrize("late_ms", [0.0, 0.2, 5.0])
def test_in_a_room_channels_are_neither_exchanged_nor_turned(longer: dict[str, Clip], late_ms: float) -> None:
    """Each channel in a room of its own: only what was planted may be told, to within a few hundredths."""
    rng = np.random.default_rng(5)
    samples = longer["drums"].samples
    wet = families.room(rng, samples, 0.3, 6.0, RATE_HZ)
    found = found_between(samples, one_late(wet, late_ms * 48))
    kinds = {each.kind for each in found}
    assert not kinds & {"polarity", "onset", "edit", "dropout", "click"}
    assert not [each for each in found if "exchanged" in each.what]
    assert ("channel-delay" in kinds) == (late_ms > 0.1)


def test_in_two_rooms_the_channel_that_is_turned_is_told_and_no_other() -> None:
    """Where the delay between the channels cannot be told, a wrong one must not tell the polarity."""
    made = clean_pairs.pair(6, 9102)
    one, two = (Clip(clip.samples[14 * RATE_HZ :], RATE_HZ) for clip in (made.reference, made.other))
    for turned in ((), (0,), (1,), (0, 1)):
        signs = np.ones(2)
        signs[list(turned)] = -1
        found = wiring(one, Clip(two.samples * signs, RATE_HZ))
        assert found is not None
        assert found.turned == (turned if len(turned) == 1 else ())
        assert (found.correlation < 0) == (len(turned) == 2)


@pytest.mark.parametrize(("better", "told"), [(0.0, True), (0.065, False), (0.5, True)])
def test_a_turned_channel_is_numbered_only_where_it_is_sure_which_is_which(better: float, told: bool) -> None:
    clip = Clip(np.zeros((RATE_HZ, 2)), RATE_HZ)
    found = Wiring(0.0, 0.5, (0,), (1, 0) if better else (0, 1), better, (0, 0), (0.0, 0.0), (1.0, 1.0))
    (finding,) = timing.timing("p", "two", clip, clip, timing.Step(found, None))
    assert finding.kind == "polarity"
    assert ("in channel 1 and not" in finding.what) == told


def test_a_delay_between_the_channels_of_both_recordings_is_none_of_a_room() -> None:
    """A voice that is alike in both channels but for 0.19 ms, as a mix or a pair of microphones may place it."""
    for seed in (1, 2):
        rng = np.random.default_rng([881, seed])
        sung = [each for each in families.score(rng, 6.0, drums=False) if each.instrument == "voice"]
        samples = one_late(families.played(sung, 6.0, RATE_HZ), 9.12)
        found = wiring(Clip(samples, RATE_HZ), Clip(families.room(rng, samples, 0.3, 6.0, RATE_HZ), RATE_HZ))
        assert found is not None
        assert found.order == (0, 1)
        assert found.delay_s == pytest.approx(0, abs=20e-6)
        assert found.skews_s == pytest.approx((0, 0), abs=20e-6)


def test_exchanged_channels_are_found_in_a_room_and_with_one_of_them_late(longer: dict[str, Clip]) -> None:
    samples = longer["drums"].samples
    wet = families.room(np.random.default_rng(6), samples, 0.3, 6.0, RATE_HZ)
    for made in (one_late(samples, 960)[:, ::-1], wet[:, ::-1]):
        found = wiring(Clip(samples, RATE_HZ), Clip(made, RATE_HZ))
        assert found is not None
        assert found.order == (1, 0)
        assert found.better > 0.05
        assert found.turned == ()


def edited(reference: Samples, other: Samples) -> list[Finding]:
    """The edits, without the rest of an inspection."""
    clips = Clip(reference, RATE_HZ), Clip(other, RATE_HZ)
    near = timing.nearest(*clips)
    assert near is not None
    return edits.edits("p", "two", edits.jumps(*clips, near.delay_s, list(enumerate(near.order))))


INSPECTED_CUTS = {("drums", 2), ("drums", 70), ("spoken", 10), ("spoken", -5), ("strings", 2), ("strings", -5)}


@pytest.mark.parametrize("cut_ms", [2, 10, 70, -5])
@pytest.mark.parametrize("piece", ["drums", "spoken", "strings"])
def test_a_cut_is_an_edit_and_nothing_is_mended_by_it(longer: dict[str, Clip], piece: str, cut_ms: int) -> None:
    """Cut from the one or, negative, from the other; where it is cut, it is a fault of one of them."""
    samples = longer[piece].samples
    short = without(samples, round(2.2 * RATE_HZ), abs(cut_ms) * 48)
    pair = (samples, short) if cut_ms > 0 else (short, samples)
    look = found_between if (piece, cut_ms) in INSPECTED_CUTS else edited  # nor any other kind
    finding = only(look(*pair), "edit")
    assert finding.measured == pytest.approx(-cut_ms, abs=0.2)
    assert places(finding) == [pytest.approx(2.2, abs=0.3)]
    assert propose([finding]) == {}


def test_places_after_a_cut_count_from_the_start_of_the_passage(longer: dict[str, Clip]) -> None:
    """Only what follows the cut is compared; a click 2.5 s after it is told where the passage has it."""
    samples = 0.5 * longer["strings"].samples
    clicked = without(samples, round(1.5 * RATE_HZ), 480)
    clicked[4 * RATE_HZ] += 0.5
    found = {each.kind: each for each in found_between(samples, clicked)}
    assert places(found["edit"]) == [pytest.approx(1.5, abs=0.3)]
    assert places(found["click"]) == [pytest.approx(4.01, abs=0.02)]


@pytest.mark.parametrize("family", ["equaliser", "room"])
def test_cuts_far_and_several_are_found_behind_an_equaliser_and_in_a_room(family: str) -> None:
    rng = np.random.default_rng(8)
    piece = families.played(families.score(rng, 9.0), 9.0, RATE_HZ)
    other = (
        families.equaliser(rng, piece, RATE_HZ)
        if family == "equaliser"
        else families.room(rng, piece, 0.3, 6.0, RATE_HZ)
    )
    twice = without(without(other, 6 * RATE_HZ, 480), 3 * RATE_HZ, 960)
    finding = next(each for each in found_between(piece, twice) if each.kind == "edit")
    assert places(finding) == [pytest.approx(3, abs=0.3), pytest.approx(6, abs=0.3)]
    far = next(each for each in found_between(piece, without(other, 5 * RATE_HZ, RATE_HZ)) if each.kind == "edit")
    assert far.measured == pytest.approx(-1000, abs=1)


def muted(samples: Samples, at: int, length_ms: int, depth_db: float, channels: slice) -> Samples:
    result = samples.copy()
    result[at : at + length_ms * 48, channels] *= 10 ** (-depth_db / 20)
    return result


def broken_off(reference: Samples, other: Samples) -> list[str]:
    """The kinds of what breaks in, without the rest of an inspection."""
    clips = Clip(reference, RATE_HZ), Clip(other, RATE_HZ)
    return [each.kind for each in interruptions.interruptions("p", "two", *clips, (0, 1))[0]]


def loud_place(samples: Samples, length_ms: int) -> int:
    """Where a stretch so long is loudest, a second from the ends."""
    power = np.cumsum(np.square(samples).sum(axis=1))
    energy = power[length_ms * 48 :] - power[: -length_ms * 48]
    return RATE_HZ + int(np.argmax(energy[RATE_HZ:-RATE_HZ]))


@pytest.mark.parametrize(
    ("length_ms", "depth_db", "channels"),
    [(10, 200.0, slice(None)), (20, 200.0, slice(0, 1)), (50, 10.0, slice(1, 2)), (30, 12.0, slice(None))],
)
@pytest.mark.parametrize("piece", ["drums", "spoken", "strings"])
def test_a_gap_is_a_dropout(
    longer: dict[str, Clip], piece: str, length_ms: int, depth_db: float, channels: slice
) -> None:
    """Of either recording in turn: by every piece and every sort of gap at least once each."""
    swapped = (length_ms // 10 + len(piece)) % 2 == 1
    samples = longer[piece].samples
    at = loud_place(samples, length_ms)
    poor = muted(samples, at, length_ms, depth_db, channels)
    finding = only(found_between(poor, samples) if swapped else found_between(samples, poor), "dropout")
    assert places(finding) == [pytest.approx((at + 24 * length_ms) / RATE_HZ, abs=0.03)]
    assert finding.what.startswith("one" if swapped else "two")
    assert broken_off(samples, muted(samples, at, length_ms, 5, channels)) == []


@pytest.mark.parametrize("length_ms", [3, 5, 7])
@pytest.mark.parametrize("piece", ["drums", "spoken", "strings"])
def test_a_few_milliseconds_of_silence_in_loud_music_are_a_dropout(
    longer: dict[str, Clip], piece: str, length_ms: int
) -> None:
    """Through a loudspeaker and a room as well: said of the one that has it, where a click of the other was told."""
    samples = longer[piece].samples
    at = loud_place(samples, length_ms) + RATE_HZ // 200  # where a stroke has begun
    rng = np.random.default_rng(length_ms)
    makes = {
        3: lambda: samples,
        5: lambda: families.equaliser(rng, samples),
        7: lambda: families.room(rng, samples, 0.4, 3),
    }
    poor = muted(makes[length_ms](), at, length_ms, 40.0, slice(None))
    for swapped in (False, True):
        clips = [Clip(each, RATE_HZ) for each in ((poor, samples) if swapped else (samples, poor))]
        (found,) = interruptions.interruptions("p", "two", *clips, (0, 1))[0]
        assert found.kind == "dropout"
        assert found.what.startswith(f"{'the reference' if swapped else 'two'} breaks off or")
        assert places(found) == [pytest.approx(at / RATE_HZ + length_ms / 2000, abs=0.003)]


@pytest.mark.parametrize(("number", "room_s", "direct_db"), [(5, 0.8, 3.0), (4, 0.6, 5.0)])
def test_an_organ_in_a_room_is_neither_cut_nor_another_performance(
    number: int, room_s: float, direct_db: float
) -> None:
    """Its chords fit at every period: once a lag of some periods was taken, and a clock of 180 ppm read from chance."""
    rng = np.random.default_rng([91, number])
    dry = families.organ(rng, 10.0)
    wet = families.room(rng, dry, room_s, direct_db, RATE_HZ)
    wet *= np.sqrt(np.mean(np.square(dry)) / np.mean(np.square(wet)))
    assert timing.untold(Clip(dry, RATE_HZ))
    found = found_between(*(families.noisy(rng, each, 70.0) for each in (dry, wet)))
    assert [each.kind for each in found if each.kind != "level"] == []


def test_one_moment_is_told_once_however_its_channels_see_it() -> None:
    """A short sound and a longer one that holds it, whose middle is later: by its beginning, and as one."""
    seen = [Moment(0.101, 0.001, 0, 9.0, True), Moment(0.146, 0.092, 1, 8.0, True), Moment(0.3, 0.001, 0, 8.0, True)]
    (finding,) = interruptions._told("p", "two", "click", seen, 0.0, "clicks")
    assert "(2 times, 0:00.100 for 92 ms, 0:00.300 into the passage, in channels 1 and 2)" in finding.what


def test_a_short_silence_is_told_in_every_channel_that_is_silent(longer: dict[str, Clip]) -> None:
    """Of 40 ms, seen in the first channel; not in one that plays on."""
    samples = longer["strings"].samples
    at = loud_place(samples, 40)
    seen = Moment((at + 960) / RATE_HZ, 0.04, 0, 1.0, True)
    beside = [
        interruptions._silent_beside(
            seen, Clip(samples, RATE_HZ), Clip(muted(samples, at, 40, 200.0, channels), RATE_HZ), (0, 1)
        )
        for channels in (slice(None), slice(0, 1))
    ]
    assert [[each.channel for each in found] for found in beside] == [[1], []]


@pytest.mark.parametrize("piece", ["drums", "spoken", "strings"])
def test_a_stutter_is_a_dropout(longer: dict[str, Clip], piece: str) -> None:
    samples = longer[piece].samples
    at = loud_place(samples, 30)
    stuttered = samples.copy()
    stuttered[at : at + 1440] = samples[at - 1440 : at]
    assert "dropout" in {each.kind for each in found_between(samples, stuttered)}


def one_sample(size: float) -> Samples:
    return np.array([[size]])


def pop(size: float) -> Samples:
    return size * np.hanning(240)[:, None]


INSPECTED_AT_S = {"drums": 1.3, "spoken": 2.9, "strings": 3.7}  # for what else may be said of it


@pytest.mark.parametrize("sound", [one_sample(0.5), pop(0.5)], ids=["sample", "pop"])
@pytest.mark.parametrize("at_s", [1.3, 2.9, 3.7])
@pytest.mark.parametrize("piece", ["drums", "spoken", "strings"])
def test_a_click_is_found_wherever_it_falls(longer: dict[str, Clip], piece: str, at_s: float, sound: Samples) -> None:
    """In either recording in turn: every sound, in every piece, in each of the two."""
    samples = 0.5 * longer[piece].samples
    at = round(at_s * RATE_HZ)
    swapped = bool((at // RATE_HZ + len(sound)) % 2)
    clicked = samples.copy()
    clicked[at : at + len(sound), :1] += sound
    pair = (clicked, samples) if swapped else (samples, clicked)
    if at_s != INSPECTED_AT_S[piece]:
        (finding,), _ = interruptions.interruptions("p", "two", *(Clip(each, RATE_HZ) for each in pair), (0, 1))
    else:
        found = found_between(*pair)
        (finding,) = (each for each in found if each.kind == "click")
        assert {each.kind for each in found} <= {"click", "level"}  # a loud pop is loudness too
    assert finding.kind == "click"
    assert places(finding) == [pytest.approx(at_s, abs=0.01)]
    assert "in channel 1" in finding.what


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_a_click_lasts_no_longer_at_a_rate_of_which_no_whole_frames_are_a_block(rate_hz: int) -> None:
    """0.8 ms; at 44.1 kHz 2.5 ms are 110.25 frames, so that 4000 blocks of 110 are 23 ms less than 10 s.

    More is left over for 0.2 s before and after it than elsewhere.
    """
    rng = np.random.default_rng(3)
    music = 0.3 * families.played(families.score(rng, 6.0, drums=False), 6.0, rate_hz)
    one = np.tile(music, (2, 1))
    left = np.where(np.abs(np.arange(len(one)) / rate_hz - 10.2) < 0.2, 0.003, 0.0001)
    two = one + rng.standard_normal(one.shape) * left[:, None]
    at, sound = round(10.2 * rate_hz), np.hanning(round(0.0008 * rate_hz)) * [[1], [-1]]
    two[at : at + sound.shape[1]] += 0.35 * sound.T
    (finding,), _ = interruptions.interruptions("p", "two", Clip(one, rate_hz), Clip(two, rate_hz), (0, 1))
    assert " into the passage, in channels 1 and 2)" in finding.what
    assert "for" not in finding.what
    assert places(finding) == [pytest.approx(10.2, abs=0.002)]


@pytest.mark.parametrize(
    ("piece", "at_s", "channels"),
    [("drums", (1.3, 2.9, 3.7), 1), ("drums", (1.1, 1.9, 3.3), 2), ("spoken", (1.3, 2.9, 3.7), 1)],
)
def test_three_pops_are_three_clicks_and_leave_no_offset_in_pauses(
    longer: dict[str, Clip], piece: str, at_s: tuple[float, ...], channels: int
) -> None:
    """Their mean is no offset of the recording: taken off everywhere, it was a sound where the music pauses."""
    samples = 0.5 * longer[piece].samples
    struck = samples.copy()
    for each in at_s:
        struck[round(each * RATE_HZ) :][:240, :channels] += pop(0.5)
    clips = Clip(samples, RATE_HZ), Clip(struck, RATE_HZ)
    (finding,), _ = interruptions.interruptions("p", "two", *clips, (0, 1))
    assert finding.kind == "click"
    assert finding.what.startswith("two has a click")
    assert places(finding) == [pytest.approx(each, abs=0.01) for each in at_s]


def test_clicks_of_each_recording_are_told_of_each(longer: dict[str, Clip]) -> None:
    """Not all of them of the recording that has the largest."""
    one, two = (0.5 * longer["strings"].samples for _ in range(2))
    for samples, at_s, size in ((one, 1.3, 0.5), (two, 2.9, 0.2)):
        samples[round(at_s * RATE_HZ) :][:240] += pop(size)
    told = [(each.what.split()[0], places(each)) for each in found_between(one, two) if each.kind == "click"]
    assert sorted(told) == [("one", [pytest.approx(1.3, abs=0.02)]), ("two", [pytest.approx(2.9, abs=0.02)])]


def test_a_click_in_both_is_music(longer: dict[str, Clip]) -> None:
    """As of vinyl, heard through another loudspeaker."""
    samples = longer["strings"].samples.copy()
    for at in range(RATE_HZ, 4 * RATE_HZ, 7001):
        samples[at] += 0.3
    other = loudspeakers.render("sallow", samples, RATE_HZ)
    assert not {each.kind for each in found_between(samples, other)} & {"click", "dropout", "edit"}


@pytest.mark.parametrize("planted", [lambda x: muted(x, loud_place(x, 30), 30, 200.0, slice(None))])
def test_a_dropout_is_found_in_a_room(longer: dict[str, Clip], planted: Callable[[Samples], Samples]) -> None:
    samples = longer["strings"].samples
    wet = families.room(np.random.default_rng(3), samples, 0.3, 6.0, RATE_HZ)
    assert "dropout" in {each.kind for each in found_between(samples, planted(wet))}


@pytest.mark.parametrize(
    ("dry", "piece", "swapped"),
    [(False, "drums", False), (False, "spoken", True), (True, "drums", True), (True, "spoken", False)],
)
def test_a_gap_in_a_room_is_a_dropout_of_the_recording_that_has_it(
    longer: dict[str, Clip], piece: str, dry: bool, swapped: bool
) -> None:
    """In the wet recording or in the dry one, whose gap the room fills."""
    samples = longer[piece].samples
    wet = families.room(np.random.default_rng(3), samples, 0.3, 6.0, RATE_HZ)
    at = loud_place(samples, 20)
    poor = [
        muted(each, at, 20, 200.0, slice(None)) if this else each for each, this in ((samples, dry), (wet, not dry))
    ]
    found = found_between(*(poor[::-1] if swapped else poor))
    finding = next(each for each in found if each.kind == "dropout")
    assert places(finding) == [pytest.approx((at + 480) / RATE_HZ, abs=0.03)]
    assert finding.what.startswith("one" if dry != swapped else "two")
    assert {each.kind for each in found} <= {"dropout", "level"}


@pytest.mark.parametrize("at_s", [1.3, 2.9])
@pytest.mark.parametrize("piece", ["spoken", "strings"])
def test_a_pop_in_a_room_is_no_gap_of_the_other(longer: dict[str, Clip], piece: str, at_s: float) -> None:
    samples = longer[piece].samples
    wet = families.room(np.random.default_rng(3), samples, 0.3, 6.0, RATE_HZ)
    at = round(at_s * RATE_HZ)
    wet[at : at + 240, :1] += pop(0.5)
    found = found_between(samples, wet)
    finding = next(each for each in found if each.kind == "click")
    assert finding.what.startswith("two has a click")
    assert "dropout" not in {each.kind for each in found}


@pytest.mark.parametrize("wet", [False, True])
@pytest.mark.parametrize("piece", ["spoken", "strings"])
def test_two_splices_that_undo_each_other_are_edits(longer: dict[str, Clip], piece: str, wet: bool) -> None:
    """10 ms cut out, and 10 ms put in 0.4 s later."""
    samples = longer[piece].samples
    other = families.room(np.random.default_rng(4), samples, 0.3, 6.0, RATE_HZ) if wet else samples
    at, cut, apart = round(1.3 * RATE_HZ), 480, round(0.4 * RATE_HZ)
    spliced = np.concatenate([other[:at], other[at + cut : at + cut + apart], other[at + apart :]])
    finding = next(each for each in found_between(samples, spliced) if each.kind == "edit")
    assert finding.measured == pytest.approx(-10, abs=0.3)
    assert places(finding) == [pytest.approx(1.3, abs=0.2), pytest.approx(1.7, abs=0.2)]
    assert "-10.0 ms" in finding.what
    assert "+10.0 ms" in finding.what


def test_a_room_is_no_other_place_of_drums_that_repeat() -> None:
    """Compared over as much music here as there: less of it is more coherent, and there is less of it elsewhere."""
    rng = np.random.default_rng([16_180, 20_016])
    length_s = float(rng.choice([5.0, 10.0, 15.0, 20.0]))
    rng.integers(0, 5)
    piece = families.played(families.score(rng, length_s, tonal=False), length_s, RATE_HZ)
    wet = families.room(rng, piece, 0.8, 0.0, RATE_HZ)
    assert performance("p", "two", Clip(piece, RATE_HZ), Clip(wet, RATE_HZ), (0, 0)) == []


def test_no_offset_or_clock_is_mended_that_single_sines_alone_show() -> None:
    """An equaliser turns each sine by itself: that is no delay of the music."""
    rate_hz = families.RATE_HZ
    times = np.arange(20 * rate_hz) / rate_hz
    one = np.zeros(times.size)
    for number, pitch_hz in enumerate((440.0, 660.0, 550.0, 880.0, 495.0)):
        after_s = times - 1 - 4 * number
        one += 0.3 * np.sin(2 * np.pi * pitch_hz * after_s) * np.clip(np.minimum(after_s, 1 - after_s) / 0.05, 0, 1)
    stereo = np.stack([one, one], axis=1)
    for seed in range(3):
        other = families.equaliser(np.random.default_rng(seed), stereo)
        clips = {"one": Clip(stereo, rate_hz), "two": Clip(other, rate_hz)}
        found = inspection.inspect("p", clips, fine=True)
        assert [each.kind for each in found if each.kind in ("onset", "drift")] == []
    assert timing.untold(Clip(stereo, rate_hz))


def test_a_phase_that_turns_with_the_pitch_is_no_clock_that_is_then_evened_out() -> None:
    """A crossover holds the bass back by 1.4 ms: strokes of bass and of treble in turn read as 14 ppm, to 38 ppm."""
    pair = clean_pairs.pair(267, 10037)
    step = timing.in_step(pair.reference, pair.other)
    assert step is not None
    assert step.drift is not None
    assert step.drift.ppm_unsure > 14.0
    assert step.drift.ppm == 0.0
    assert inspection.inspect("p", {"one": pair.reference, "two": pair.other}) == []


def test_windows_that_agree_need_no_second_search_and_far_clocks_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search for clocks far apart was most of the cost of every pair in a room."""
    rate_hz, length_s = families.RATE_HZ, 12.0
    piece = families.played(families.score(np.random.default_rng(61), length_s), length_s)
    asked: list[bool] = []
    search = timing._far_off
    monkeypatch.setattr(timing, "_far_off", lambda *clips: (asked.append(True), search(*clips))[1])
    rng = np.random.default_rng(8)
    step = timing.in_step(Clip(piece, rate_hz), Clip(families.room(rng, piece, 0.8, 0.0), rate_hz))
    assert step is not None
    assert asked == []
    places = np.arange(round(len(piece) * 0.999)) * (1 - 900e-6)
    fast = make_interp_spline(np.arange(len(piece)), piece, k=5)(places)
    step = timing.in_step(Clip(piece, rate_hz), Clip(families.equaliser(rng, fast), rate_hz))
    assert asked == [True]
    assert step is not None
    assert step.drift is not None
    assert step.drift.ppm == pytest.approx(1e6 * (1 / (1 - 900e-6) - 1), abs=5.0)
    assert step.drift.ppm_unsure < 5.0


@pytest.mark.parametrize(
    ("piece", "seed", "swapped"),
    [("spoken", 51, False), ("spoken", 52, True), ("strings", 51, True), ("strings", 52, False)],
)
def test_a_pop_that_a_loudspeaker_played_in_a_room_is_of_that_recording(
    longer: dict[str, Clip], piece: str, seed: int, swapped: bool
) -> None:
    """A relay's pop before the room, which draws it out: the dry recording does not hold it."""
    samples = longer[piece].samples
    struck = samples.copy()
    at = round(2.6 * RATE_HZ)
    struck[at : at + 240] += pop(0.5)
    pair = [samples, families.room(np.random.default_rng(seed), struck, 0.3, 6.0, RATE_HZ)]
    found = [each for each in found_between(*(pair[::-1] if swapped else pair)) if each.kind == "click"]
    assert all(not each.what.startswith("two" if swapped else "the reference") for each in found)
    assert found
