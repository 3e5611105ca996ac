"""Gain that moves, limiters, clipping under other processing, width: planted just above and just below their limits.

How much was planted is known by construction; each is found by its own name, and by no other's.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import fftconvolve

from audio.clip import Clip
from audio.giveaways import coding, gain_course, inspection, level_cues, moving_gain, peaks, pumping, unjudged, width
from audio.giveaways.findings import LIMITS, finding
from audio.giveaways.moving_gain import Movement
from audio.giveaways.wiring import wiring
from tests import families
from tests.benchmarks import clean_pairs

from .equally_loud import RATE_HZ, Samples, decibels, found_between

LENGTH_S = 6.0
Change = Callable[[Samples], Samples]
AFTER: dict[str, Change] = {
    "nothing": lambda x: x,
    "an equaliser": lambda x: families.equaliser(np.random.default_rng(1), x, RATE_HZ),
    "noise": lambda x: families.noisy(np.random.default_rng(2), x, 50.0),
    "a room of 0.3 s": lambda x: families.room(np.random.default_rng(3), x, 0.3, 6.0, RATE_HZ),
}
DRY = ("nothing", "an equaliser", "noise")


@cache
def piece(number: int) -> Samples:
    """A piece made at random; the third has no drums."""
    events = families.score(np.random.default_rng([7, number]), LENGTH_S, drums=number != 2)
    return families.played(events, LENGTH_S, RATE_HZ)


@cache
def changed(number: int, after: str) -> Samples:
    """A piece behind one of `AFTER`, made once."""
    return AFTER[after](piece(number))


def fade(frames: int, by_db: float) -> Samples:
    return decibels(np.linspace(-by_db / 2, by_db / 2, frames))[:, None]


def step(frames: int, by_db: float) -> Samples:
    return decibels(np.where(np.arange(frames) < 0.6 * frames, by_db / 2, -by_db / 2))[:, None]


def wave(frames: int, by_db: float, period_s: float) -> Samples:
    return decibels(by_db / 2 * np.sin(2 * np.pi * np.arange(frames) / (period_s * RATE_HZ) + 1.0))[:, None]


def limited(samples: Samples, by_db: float) -> Samples:
    """A limiter that holds its highest peak so far down: 1 ms ahead, 10 ms of recovery."""
    ceiling = np.abs(samples).max() * decibels(-by_db)
    gain = np.minimum(1, ceiling / np.maximum(np.abs(samples).max(axis=1), 1e-9))
    held = uniform_filter1d(minimum_filter1d(gain, RATE_HZ // 100), RATE_HZ // 200)
    return samples * np.minimum(held, 1.0)[:, None]


def clipped(samples: Samples, by_db: float) -> Samples:
    ceiling = np.sort(np.abs(samples).max(axis=0))[0] * decibels(-by_db)
    return np.clip(samples, -ceiling, ceiling)


def widened(samples: Samples, by_db: float) -> Samples:
    middle = samples.mean(axis=1, keepdims=True)
    return middle + decibels(by_db) * (samples - middle)


def kinds_between(one: Samples, two: Samples) -> list[str]:
    """The kinds of what is found between two recordings that are equally loud."""
    return [each.kind for each in found_between(one, two)]


def movement(one: Samples, two: Samples) -> Movement:
    spectra = gain_course.both(Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    assert spectra is not None
    found = moving_gain.movement(*spectra, LENGTH_S)
    assert found is not None
    return found


def held_db(one: Samples, two: Samples) -> float:
    found = peaks.held_down(Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    return 0.0 if found is None else found.peaks_db


def wider_db(one: Samples, two: Samples) -> float:
    spectra = gain_course.both(Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    assert spectra is not None
    return width.width_db(*spectra) or 0.0


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize(("number", "moves"), [(0, fade), (2, fade), (0, step)])
def test_gain_that_moves_is_found_whatever_filter_stays(number: int, after: str, moves: Callable[..., Samples]) -> None:
    """1.5 dB is beyond the limit of 1 dB, 0.6 dB within."""
    plain, through = piece(number), changed(number, after)
    assert movement(through * moves(len(plain), 1.5), plain).largest_db > 1
    assert movement(plain, through * moves(len(plain), 0.6)).largest_db < 1


@pytest.mark.parametrize("by_db", [1.5, -3.0])
@pytest.mark.parametrize("moves", [fade, step])
def test_the_number_is_what_was_planted(moves: Callable[..., Samples], by_db: float) -> None:
    """Within a tenth, and a stretch of 0.75 s at each end of a fade, whichever way it goes."""
    plain = piece(0)
    found = abs(movement(AFTER["an equaliser"](plain) * moves(len(plain), by_db), plain).over_time_db)
    assert 0.85 * abs(by_db) < found < 1.1 * abs(by_db)


@pytest.mark.parametrize("by_db", [-2.0, 3.0])
def test_a_step_is_told_with_its_place_and_a_fade_as_one(by_db: float) -> None:
    """At 0.6 of the passage, up where the planted number is negative; half a stretch of 0.75 s off at most."""
    plain = piece(0)
    wet = AFTER["an equaliser"](plain)
    (finding,) = moving_gain.told("p", "two", movement(plain, wet * step(len(plain), by_db)), 1.0)
    said = re.search(r"steps (up|down) by (\S+) dB about 0:(\S+) into the passage", finding.what)
    assert said is not None
    assert said[1] == ("down" if by_db > 0 else "up")
    assert float(said[2]) == pytest.approx(abs(by_db), abs=0.3)
    assert float(said[3]) == pytest.approx(1.0 + 0.6 * LENGTH_S, abs=0.4)
    assert "fade" not in finding.what
    (faded,) = moving_gain.told("p", "two", movement(plain, wet * fade(len(plain), by_db)))
    assert "a fade or an automatic level in one of them?" in faded.what


@pytest.mark.parametrize(
    ("number", "after", "from_s", "to_s", "by_db"),
    [
        (0, "an equaliser", 3.0, 6.0, -40.0),
        (2, "nothing", 4.0, 6.0, -30.0),
        (1, "a room of 0.3 s", 2.5, 6.0, -12.0),
        (2, "an equaliser", 0.0, 2.0, 30.0),
        (0, "nothing", 0.0, 2.0, 12.0),
    ],
)
@pytest.mark.parametrize("swapped", [False, True])
def test_a_deep_fade_is_told_with_its_depth_and_place_and_nothing_else_of_it(
    number: int, after: str, from_s: float, to_s: float, by_db: float, swapped: bool
) -> None:
    """Out at the end or in at the beginning, of whichever has it; not as clicks or dropouts of the other."""
    plain, through = piece(number), changed(number, after)
    ramp = by_db * np.clip((np.arange(len(plain)) / RATE_HZ - from_s) / (to_s - from_s), 0, 1)
    noise = [1e-5 * np.random.default_rng(seed).standard_normal(plain.shape) for seed in (1, 2)]
    faded = through * decibels(ramp - max(by_db, 0.0))[:, None] + noise[0]
    pair = (faded, plain + noise[1]) if swapped else (plain + noise[1], faded)
    (finding,) = found_between(*pair)
    way = "down" if by_db < 0 else "up"
    told = re.search(rf"^(\w+) fades {way} by about (\d+) dB .* from 0:(\S+) to 0:(\S+) into", finding.what)
    assert told is not None, finding.what
    assert finding.setup == told[1] == ("one" if swapped else "two")
    assert float(told[2]) == pytest.approx(abs(by_db), rel=0.25)
    assert float(told[3]) == pytest.approx(from_s, abs=0.6)
    assert float(told[4]) == pytest.approx(to_s, abs=0.6)


def levelled(samples: Samples, attack_s: float, release_s: float, starts: float, most: float) -> Samples:
    """An automatic level: a gain towards the mean level in steps of 10 ms, slow up and fast down."""
    block, gain = RATE_HZ // 100, starts
    aim = float(np.sqrt(np.mean(np.square(samples))))
    gains = np.ones(len(samples))
    for start in range(0, len(samples), block):
        part, before = samples[start : start + block], gain
        wanted = min(aim / (float(np.sqrt(np.mean(np.square(part)))) + 1e-6), most)
        gain += (wanted - gain) * (1 - np.exp(-0.01 / (attack_s if wanted < gain else release_s)))
        gains[start : start + block] = np.linspace(before, gain, len(part))
    made = samples * gains[:, None]
    return made * (aim / np.sqrt(np.mean(np.square(made))))


@pytest.mark.parametrize(
    ("seed", "lead_s", "how"),
    [(0, 1.0, (0.05, 2.0, 1.0, 4.0)), (1, 0.0, (0.02, 1.0, 4.0, 8.0))],
)
def test_the_first_moments_of_an_automatic_level_are_gain_that_moves_and_no_click(
    seed: int, lead_s: float, how: tuple[float, float, float, float]
) -> None:
    """What is louder there is the same music."""
    length_s = 8.0 - lead_s
    score = families.score(np.random.default_rng([13, seed]), length_s, drums=seed % 2 == 0)
    music = 0.5 * families.played(score, length_s, RATE_HZ)
    music = families.noisy(
        np.random.default_rng(3), np.concatenate([np.zeros((int(lead_s * RATE_HZ), 2)), music]), 80.0
    )
    kinds = kinds_between(music, levelled(music, *how))
    assert "gain" in kinds
    assert "click" not in kinds


def test_silence_between_moves_no_gain_and_hides_none() -> None:
    """Two pauses longer than two stretches; noise 90 dB below fills them differently."""
    plain = piece(0) * np.where(np.arange(len(piece(0))) // RATE_HZ % 3 == 1, 0.0, 1.0)[:, None]
    noisy = [families.noisy(np.random.default_rng(seed), plain, 90.0) for seed in (5, 6)]
    assert movement(*noisy).largest_db < 0.5
    faded = noisy[1] * fade(len(plain), 2.0)
    assert 1.6 < abs(movement(noisy[0], faded).over_time_db) < 2.2


def swing_db(one: Samples, two: Samples) -> tuple[float, float | None]:
    spectra = gain_course.both(Clip(one, RATE_HZ), Clip(two, RATE_HZ))
    assert spectra is not None
    found = pumping.swing(*spectra, 1.0)
    return (0.0, None) if found is None else (found.by_db, found.period_s)


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize(("by_db", "period_s"), [(1.5, 0.6), (3.0, 0.35), (2.0, 1.4)])
def test_pumping_is_found_with_its_period(by_db: float, period_s: float, after: str) -> None:
    plain = piece(0)
    made = changed(0, after) * wave(len(plain), by_db, period_s)
    # the other way round where they are most alike and where least
    for pair in ((plain, made), (made, plain))[: 1 if after in ("an equaliser", "noise") else 2]:
        found_db, found_s = swing_db(*pair)
        assert found_db == pytest.approx(by_db, rel=0.2)
        assert found_s == pytest.approx(period_s, rel=0.05)


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize("number", [0, 2])
def test_what_stays_does_not_pump(number: int, after: str) -> None:
    plain = piece(number)
    assert swing_db(plain, changed(number, after) * wave(len(plain), 0.7, 0.6))[0] == 0.0


def struck(seed: int) -> Samples:
    """Sparse chords of strings that are struck and sound on for seconds, each note at its own place."""
    length_s = 10.0
    rng = np.random.default_rng([13, seed])
    result = np.zeros((round(length_s * RATE_HZ), 2))
    t = np.arange(round(2.5 * RATE_HZ)) / RATE_HZ
    at_s = 0.3
    while at_s < length_s - 0.5:
        for note in rng.choice(np.arange(40, 84), rng.integers(1, 4), replace=False):
            turn = 2 * np.pi * 440 * 2 ** ((note - 69) / 12) * t
            phases = [rng.uniform(0, 6) for _ in range(12)]
            waves = [np.sin(k * turn + phases[k - 1]) * np.exp(-1.3 * (1 + 0.4 * k) * t) / k for k in range(1, 13)]
            place = 0.4 + 0.75 * (note - 40) / 44
            start = round((at_s + rng.uniform(0, 0.02)) * RATE_HZ)
            part = (np.sum(waves, axis=0) * np.minimum(1, t / 0.003))[: len(result) - start, None]
            result[start : start + len(part)] += part * np.array([np.cos(place), np.sin(place)])
        at_s += float(rng.choice([0.5, 0.9, 1.4]))
    return result * (0.5 / np.abs(result).max())


@pytest.mark.parametrize("seed", [4, 19])
def test_a_room_that_rings_on_between_sparse_strokes_does_not_pump(seed: int) -> None:
    """As much room as direct sound: each chord's tail is under the next."""
    plain = struck(seed)
    through = families.room(np.random.default_rng(seed), plain, 0.5, 0.0, RATE_HZ)
    assert swing_db(plain, through) == swing_db(through, plain) == (0.0, None)


def test_what_a_room_hides_is_said() -> None:
    plain = piece(0)
    dry = {"one": Clip(plain, RATE_HZ), "two": Clip(AFTER["an equaliser"](plain), RATE_HZ)}
    assert unjudged.unjudged("p", dry) == []
    (note,) = unjudged.unjudged("p", dry | {"two": Clip(AFTER["a room of 0.3 s"](plain), RATE_HZ)})
    assert note.startswith("p: between one and two width, a balance less than ")
    assert ", limiters and clipping under other processing, " in note
    assert ", pumping, steady noise fainter than -55 dBFS (A-weighted), " in note
    assert ", lossy coding (MP3, AAC), " in note
    assert ", silences, gaps and clicks shorter than 0.15 s or in its first 0.3 s could not be judged;" in note
    (beside_a_click,) = unjudged.unjudged("p", dry | {"two": Clip(AFTER["a room of 0.3 s"](plain), RATE_HZ)}, {"click"})
    assert beside_a_click == note.replace("silences, gaps", "further silences, gaps")


def test_a_balance_says_that_it_may_be_exchanged_channels_where_the_order_is_not_known() -> None:
    """Exchanged channels in two rooms were told as a balance alone."""
    clips = Clip(piece(0), RATE_HZ), Clip(piece(0) * decibels(np.array([0.0, -3.0])), RATE_HZ)
    wired = wiring(*clips)
    assert wired is not None
    for judged in (True, False):
        (found,) = level_cues.levels("p", "two", *clips, replace(wired, order_judged=judged))[-1:]
        assert found.kind == "channel-level"
        assert ("or its channels are exchanged" in found.what) is not judged


def test_a_balance_that_is_found_beside_another_width_is_not_said_to_be_unjudged(longer: dict[str, Clip]) -> None:
    plain = longer["drums"]
    wider = width.with_width(plain, 4.0).samples * np.array([1.0, 10 ** (-1 / 20)])
    clips = {"one": plain, "two": Clip(wider, RATE_HZ)}
    (found,) = (each for each in inspection.inspect("p", clips) if each.kind == "channel-level")
    assert found.measured == pytest.approx(1.0, abs=0.1)
    assert not [note for note in unjudged.unjudged("p", clips) if "balance" in note]


def crossed(samples: Samples) -> Samples:
    return families.crossover(np.random.default_rng(4), samples, RATE_HZ)


def held_notes(seed: int) -> Samples:
    """Chords of steady notes, one after another, with nothing between their lines."""
    rng = np.random.default_rng([17, seed])
    result = np.zeros((round(LENGTH_S * RATE_HZ), 2))
    for at in range(0, len(result), RATE_HZ):
        t = np.arange(min(RATE_HZ, len(result) - at)) / RATE_HZ
        shape = np.minimum(1, np.minimum(t, t[-1] - t) / 0.05)
        for pitch_hz in rng.choice([65, 98, 131, 165, 196, 233, 311, 392, 523], 5, replace=False):
            turn = 2 * np.pi * pitch_hz * rng.uniform(0.998, 1.002) * t
            sound = np.sum([np.sin(k * turn + rng.uniform(0, 6)) / k for k in range(1, 15)], axis=0) * shape
            place = rng.uniform(0.4, 1.17)
            result[at : at + t.size] += sound[:, None] * np.array([np.cos(place), np.sin(place)])
    return result * (0.5 / np.abs(result).max())


@pytest.mark.parametrize("change", [AFTER["an equaliser"], crossed, lambda x: x + 0.01, lambda x: -x])
def test_held_notes_through_what_stays_are_judged(change: Change) -> None:
    plain = families.noisy(np.random.default_rng(6), held_notes(0), 75.0)
    clips = {"one": Clip(plain, RATE_HZ), "two": Clip(change(plain), RATE_HZ)}
    assert unjudged.unjudged("p", clips) == []
    assert held_db(plain, change(plain)) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("after", ["nothing", "an equaliser"])
def test_a_compressor_is_gain_that_follows_the_level(after: str) -> None:
    found = movement(piece(0), AFTER[after](families.compressed(piece(0), 4.0, RATE_HZ)))
    assert found.by_level_db > 1
    assert abs(found.by_level_db) >= abs(found.over_time_db)


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize("number", [0, 2])
def test_what_stays_moves_no_gain_holds_no_peak_and_widens_nothing(number: int, after: str) -> None:
    plain, through = piece(number), changed(number, after)
    assert movement(plain, through).largest_db < 0.5
    assert abs(held_db(plain, through)) < 0.5
    assert abs(wider_db(plain, through)) < 0.5


@pytest.mark.parametrize("after", DRY)
@pytest.mark.parametrize(("change", "clips"), [(limited, False), (clipped, True)])
def test_peaks_held_down_are_named_for_how(change: Callable[..., Samples], clips: bool, after: str) -> None:
    """Either way round; by as much in another measure than the one they were made by, so the sign alone is compared."""
    plain = piece(0)
    made = AFTER[after](change(plain, 4.0))
    there = peaks.held_down(Clip(plain, RATE_HZ), Clip(made, RATE_HZ))
    back = peaks.held_down(Clip(made, RATE_HZ), Clip(plain, RATE_HZ))
    assert there is not None
    assert back is not None
    assert there.peaks_db > 0.5
    assert back.peaks_db < -0.5
    assert there.is_clipping == back.is_clipping == clips


@pytest.mark.parametrize("after", DRY)
def test_music_that_was_limited_before_either_was_made_is_clean(after: str) -> None:
    loud = limited(piece(0), 6.0)
    assert abs(held_db(loud, AFTER[after](loud))) < 0.5


@pytest.mark.parametrize("after", DRY)
@pytest.mark.parametrize("by_db", [1.65, -1.35])
def test_width_at_its_limit(by_db: float, after: str) -> None:
    """The limit is 1.5 dB."""
    plain = piece(0)
    assert wider_db(plain, AFTER[after](widened(plain, by_db))) == pytest.approx(by_db, abs=0.1)


@pytest.mark.parametrize("one_has_both", [False, True])
def test_a_balance_beside_another_width_is_the_same_whichever_comes_first(one_has_both: bool) -> None:
    """-1.5 dB in the one that is not widened, or in the one that was widened before."""
    plain = piece(0)
    wide, leaning = widened(plain, 3.0), np.array([1.0, 10 ** (-1.5 / 20)])
    pair = (wide * leaning, plain) if one_has_both else (wide, plain * leaning)
    for one, two in (pair, pair[::-1]):
        found = inspection.inspect("p", {"one": Clip(one, RATE_HZ), "two": Clip(two, RATE_HZ)})
        (balance,) = (each for each in found if each.kind == "channel-level")
        assert balance.measured == pytest.approx(1.5, abs=0.03)


def to_mono(samples: Samples) -> Samples:
    return np.repeat(samples.mean(axis=1, keepdims=True), 2, axis=1)


@pytest.mark.parametrize("after", AFTER)
def test_a_recording_mixed_to_mono_after_whatever_stays_is_found(after: str) -> None:
    through = changed(2, after)
    assert kinds_between(to_mono(through), through) == ["channels"]


def test_mono_through_another_loudspeaker_is_found_against_stereo() -> None:
    assert kinds_between(AFTER["an equaliser"](to_mono(piece(0))), piece(0)) == ["channels"]


@pytest.mark.parametrize(("reverberation_s", "direct_db"), [(0.3, 6.0), (0.8, 0.0)])
def test_mono_that_a_room_makes_wide_is_the_same_recording(reverberation_s: float, direct_db: float) -> None:
    """Each channel has its own decay, so that the side rises by 70 dB."""
    mono = to_mono(piece(1))
    assert kinds_between(mono, families.room(np.random.default_rng(5), mono, reverberation_s, direct_db, RATE_HZ)) == []


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        (2611, 73),  # near mono, and few notes, which tell few lines of a room's response
        (10021, 302),  # near mono, and the few lines of the bass tell a smaller share than those of the treble
        (2612, 95),  # some bands 4 to 7 dB off the middle one, half of them within 1.5 dB of it
    ],
)
def test_few_notes_in_a_room_are_neither_mono_nor_out_of_balance(seed: int, number: int) -> None:
    pair = clean_pairs.pair(number, seed)
    spectra = gain_course.both(pair.reference, pair.other)
    assert level_cues.levels("p", "two", pair.reference, pair.other, None, spectra=spectra) == []


@pytest.mark.parametrize("number", [1, 2])
def test_channels_that_each_have_their_own_room_differ_in_balance_if_it_stands_out(number: int) -> None:
    """Their bands are some 2 dB apart at random, so that the middle one is known to about half a decibel."""
    plain = piece(number)
    through = changed(number, "a room of 0.3 s")
    assert kinds_between(plain, through) == []
    assert kinds_between(plain, through * decibels(np.array([2.0, -2.0]))) == ["channel-level"]


def panned_in_a_room(seed: int) -> tuple[Samples, Samples]:
    """One source 6.8 dB fainter to the right, and with a tail 3 dB above its direct sound, alike in both channels."""
    rng = np.random.default_rng(seed)
    source = families.played(families.score(rng, LENGTH_S, drums=False), LENGTH_S, RATE_HZ).mean(axis=1)
    dry = source[:, None] * np.array([1.0, decibels(-6.8)])
    tail = (
        rng.standard_normal((round(0.4 * RATE_HZ), 2))
        * decibels(-60 * np.linspace(0, 1, round(0.4 * RATE_HZ)))[:, None]
    )
    tail *= np.sqrt(2 / np.square(tail).sum())
    return dry, dry + fftconvolve(source[:, None], tail, axes=0)[: len(source)]


@pytest.mark.parametrize("seed", [1, 2])
def test_a_tail_that_evens_the_channels_of_a_panned_source_is_no_other_balance(seed: int) -> None:
    for dry, wet in (panned_in_a_room(seed), panned_in_a_room(seed)[::-1]):
        found = level_cues.balance(Clip(dry, RATE_HZ), Clip(wet, RATE_HZ))
        assert found is not None
        assert found.apart_db - found.error_db > LIMITS["channel-level"].value  # its bands alone would tell it
        assert not found.is_beyond
        assert not found.is_judged
        assert found.hides_db > 6.8


@pytest.mark.parametrize("seed", [1, 2])
def test_a_balance_that_no_tail_evens_is_told_in_a_room(seed: int) -> None:
    """Channels that lie further apart than of the dry source, and such as lie the other way round."""
    dry, wet = panned_in_a_room(seed)
    for by_db in (-12.0, 12.0):
        turned = Clip(wet * decibels(np.array([0.0, by_db])), RATE_HZ)
        for pair in ((Clip(dry, RATE_HZ), turned), (turned, Clip(dry, RATE_HZ))):
            found = level_cues.balance(*pair)
            assert found is not None
            assert found.is_beyond
            assert 2.0 < found.told_db <= 12.0


@pytest.mark.parametrize(
    ("swapped", "kind", "change"),
    [
        (True, "gain", lambda x: x * fade(len(x), 2.0)),
        (False, "gain", lambda x: x * step(len(x), -2.0)),
        (False, "gain", lambda x: x * wave(len(x), 2.0, 0.6)),
        (False, "gain", lambda x: x * fade(len(x), 4.0)),
        (True, "limiter", lambda x: limited(x, 4.0)),
        (False, "clipping", lambda x: AFTER["an equaliser"](clipped(x, 4.0))),
        (True, "width", lambda x: widened(x, 3.0)),
        (False, "width", lambda x: widened(x, -3.0)),
        (True, "channel-level", lambda x: x * np.array([1.0, decibels(-20.0)])),
        (False, "channel-level", lambda x: x * np.array([decibels(-20.0), 1.0])),
        (True, "channels", lambda x: x[:, ::-1]),
        (False, "channels", lambda x: np.repeat(x.mean(axis=1, keepdims=True), 2, axis=1)),
    ],
)
def test_one_fault_is_one_finding(swapped: bool, kind: str, change: Change) -> None:
    """A limiter or clipping under the name of the one that went through it, as more of it."""
    plain = piece(1)[: 5 * RATE_HZ]
    pair = plain, change(plain)
    (finding,) = found_between(*(pair[::-1] if swapped else pair))
    assert finding.kind == kind
    if kind in ("limiter", "clipping"):
        assert finding.setup == ("one" if swapped else "two")
        assert finding.measured > 0


def rewired(samples: Samples) -> Samples:
    """The second channel's polarity turned and 0.15 ms late."""
    spectrum = np.fft.rfft(samples[:, 1])
    late = np.exp(-2j * np.pi * np.fft.rfftfreq(len(samples), 1 / RATE_HZ) * 0.00015)
    return np.stack([samples[:, 0], -np.fft.irfft(spectrum * late, len(samples))], axis=1)


def plucked(seed: int) -> Samples:
    """Chords of which each note has its own place between the channels."""
    rng = np.random.default_rng([13, seed])
    result = np.zeros((round(LENGTH_S * RATE_HZ), 2))
    at_s = 0.3
    while at_s < LENGTH_S - 0.5:
        for note in rng.choice(np.arange(40, 84), rng.integers(1, 4), replace=False):
            event = families.Event("pluck", at_s, float(440 * 2 ** ((note - 69) / 12)), 0.3, 2.0)
            sound = families.played([event], LENGTH_S, RATE_HZ).sum(axis=1, keepdims=True) * rng.uniform(0.5, 1)
            place = 0.4 + 0.75 * (note - 40) / 44
            result += sound * np.array([np.cos(place), np.sin(place)])
        at_s += float(rng.choice([0.5, 0.9, 1.4]))
    return result * (0.5 / np.abs(result).max())


@pytest.mark.parametrize("seed", [1, 2])
def test_one_channel_of_turned_polarity_makes_nothing_wider(seed: int) -> None:
    """Turned and 0.15 ms late, so that the middle is mostly the side."""
    plain = plucked(seed)
    spectrum = np.fft.rfft(plain[:, 1])
    late = np.exp(-2j * np.pi * np.fft.rfftfreq(len(plain), 1 / RATE_HZ) * 0.00015)
    rewired = np.stack([plain[:, 0], -np.fft.irfft(spectrum * late, len(plain))], axis=1)
    assert kinds_between(AFTER["an equaliser"](rewired), plain) == ["channel-delay", "polarity"]


def test_levels_that_were_matched_over_a_dropout_are_matched() -> None:
    """20 ms of its loudest stroke are silent; the rest is then louder by more than a tenth of a decibel."""
    plain = piece(0)
    power = np.convolve(np.square(plain).sum(axis=1), np.ones(RATE_HZ // 50), "same")
    loudest = RATE_HZ + int(np.argmax(power[RATE_HZ:-RATE_HZ]))
    away_s = abs(np.arange(len(plain)) - loudest) / RATE_HZ
    plain = plain * (1 + 2 * np.exp(-np.square(away_s / 0.05)))[:, None]
    one, two = plain, plain * uniform_filter1d((away_s > 0.01).astype(float), 49)[:, None]
    assert kinds_between(one, two) == kinds_between(two, one) == ["dropout"]


def test_of_a_coded_recording_nothing_is_said_of_peaks(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coder makes other peaks of the same music, some higher: the uncoded one is not blamed for them."""
    pair = limited(piece(0), 4.0), piece(0)
    assert kinds_between(*pair) == ["limiter"]
    monkeypatch.setattr(coding, "coding", lambda *_: [finding("coding-holes", "two", "p", 1.2, "coded")])
    assert kinds_between(*pair) == ["coding"]


@pytest.mark.parametrize(("number", "fades"), [(0, True), (0, False), (1, True)])
def test_a_fade_and_pumping_at_once_are_two_findings(number: int, fades: bool) -> None:
    plain = piece(number)
    made = plain * wave(len(plain), 2.0, 0.6) * fade(len(plain), 3.0 if fades else 0.0)
    assert kinds_between(plain, made) == (["gain", "gain"] if fades else ["gain"])


@pytest.mark.parametrize("swapped", [False, True])
def test_exchanged_channels_hide_no_step_of_the_gain(swapped: bool) -> None:
    plain, exchanged = piece(2), changed(2, "an equaliser")[:, ::-1]
    pair = (plain, exchanged * step(len(exchanged), -2.5))
    assert sorted(kinds_between(*(pair[::-1] if swapped else pair))) == ["channels", "gain"]


def test_what_exchanged_channels_hide_is_told_of_them_put_right() -> None:
    """Beside an offset of the whole and one channel that is late: what is put right is moved no second time."""
    plain, equalised = piece(2), changed(2, "an equaliser")
    late = np.roll(equalised * step(len(plain), -2.5), 240, axis=0)
    late[:, 1] = np.roll(late[:, 1], 48)
    assert sorted(kinds_between(plain, late)) == sorted(set(kinds_between(plain, late[:, ::-1])) - {"channels"})
    clips = {"one": Clip(plain, RATE_HZ), "two": Clip(equalised[:, ::-1], RATE_HZ)}
    straight = {"one": Clip(plain, RATE_HZ), "two": Clip(equalised, RATE_HZ)}
    assert unjudged.unjudged("p", clips) == unjudged.unjudged("p", straight)


def test_exchanged_channels_alone_are_all_that_is_told_of_them() -> None:
    assert kinds_between(piece(2), changed(2, "an equaliser")[:, ::-1]) == ["channels"]
