"""Recordings paired by names as people give them, and by their sound where names say nothing."""

from __future__ import annotations

import unicodedata
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from audio import pairing
from audio.clip import Clip
from audio.errors import FileError, MeasureError
from audio.files import reading, writing
from audio.resample import resample
from demo_tracks import loudspeakers, tracks

RATE = 48_000
PIECES = [track.name for track in tracks.TRACKS]
SPEAKERS = list(loudspeakers.LOUDSPEAKERS)
# What the two sides of the limit look like here: measured on the demo pieces, whole, through every two loudspeakers
SAME_AT_LEAST, OTHER_AT_MOST = 0.9, 0.6


@pytest.fixture(scope="module")
def played() -> dict[tuple[str, str], Clip]:
    """Every demo piece through every loudspeaker, whole."""
    return {
        (piece, speaker): Clip(loudspeakers.render(speaker, reading.read(tracks.path(piece)).samples, RATE), RATE)
        for piece in PIECES
        for speaker in SPEAKERS
    }


def named(folder: str, *names: str) -> list[Path]:
    """Files that are only names: where names agree, none is opened."""
    return [Path("/nowhere") / folder / name for name in names]


def by_name(files_a: list[Path], files_b: list[Path]) -> list[tuple[str, str]]:
    found = pairing.pair(files_a, files_b)
    assert {pair.by for pair in found.pairs} <= {"name"}
    assert found.left_a == found.left_b == ()
    return [(pair.a.name, pair.b.name) for pair in found.pairs]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Evening Song.wav", "evening song.flac"),
        ("Evening Song.wav", "EVENING_SONG.WAV"),
        ("evening-song.wav", "evening.song.wav"),
        ("01 Evening Song.wav", "7 - evening song.wav"),
        ("03. evening song.wav", "evening   song.wav"),
        ("evening song.wav", "evening song (heath).wav"),
        ("evening song.wav", "heath_evening_song.wav"),
        ("Stra\u00dfe.wav", "STRASSE.wav"),
        (unicodedata.normalize("NFC", "caf\u00e9.wav"), unicodedata.normalize("NFD", "caf\u00e9.wav")),
    ],
)
def test_names_agree_in_spite_of_how_they_are_written(one: str, other: str) -> None:
    """Case, separators, track numbers, the folder's own name, and the two ways in which systems store an accent."""
    sides = named("moor", one, "drums.wav"), named("heath", "Drums.wav", other)
    assert by_name(*sides) == [(one, other), ("drums.wav", "Drums.wav")]


def test_words_that_all_files_of_a_folder_share_are_left_out() -> None:
    plain = named("moor", "strings.wav", "drums.wav")
    worded = named("recordings", "strings take two at 48k.wav", "drums take two at 48k.wav")
    assert by_name(plain, worded) == [("strings.wav", worded[0].name), ("drums.wav", worded[1].name)]
    assert by_name(worded, plain) == [(worded[0].name, "strings.wav"), (worded[1].name, "drums.wav")]


def test_files_named_by_numbers_alone_are_paired_by_them() -> None:
    sides = named("moor", "01.wav", "02.wav", "10.wav"), named("heath", "10.flac", "02.flac", "01.flac")
    assert by_name(*sides) == [("01.wav", "01.flac"), ("02.wav", "02.flac"), ("10.wav", "10.flac")]


def test_pairs_come_in_the_order_of_the_first_folder() -> None:
    sides = (
        named("moor", "voice.wav", "drums.wav", "chords.wav"),
        named("heath", "chords.wav", "drums.wav", "voice.wav"),
    )
    assert [one for one, _ in by_name(*sides)] == ["voice.wav", "drums.wav", "chords.wav"]


def test_one_folder_empty_leaves_all_of_the_other() -> None:
    some = named("moor", "voice.wav", "drums.wav")
    found = pairing.pair(some, [])
    assert (found.pairs, found.left_a, found.left_b) == ((), tuple(some), ())
    found = pairing.pair([], some)
    assert (found.pairs, found.left_a, found.left_b) == ((), (), tuple(some))


def test_names_of_two_files_that_become_the_same_are_told_apart_by_content(
    tmp_path: Path, played: dict[tuple[str, str], Clip]
) -> None:
    """'01 take' and '02 take' in one folder: without their numbers nothing tells which is which, but their sound."""
    moor, heath = tmp_path / "moor", tmp_path / "heath"
    for folder, speaker, order in ((moor, "sallow", ("voice", "drums")), (heath, "bracken", ("drums", "voice"))):
        folder.mkdir()
        for number, piece in enumerate(order, 1):
            writing.write(folder / f"0{number} take.wav", played[piece, speaker])
    found = pairing.pair(sorted(moor.iterdir()), sorted(heath.iterdir()))
    assert [(pair.a.name, pair.b.name, pair.by) for pair in found.pairs] == [
        ("01 take.wav", "02 take.wav", "content"), ("02 take.wav", "01 take.wav", "content"),
    ]  # fmt: skip


def test_content_is_known_through_noise_an_offset_filters_and_another_rate(
    tmp_path: Path, played: dict[tuple[str, str], Clip]
) -> None:
    """Every piece again, 1.1 s later, 12 dB down, through gentle filters, with noise 40 dB down, at 44.1 kHz."""
    rng = np.random.default_rng(12)
    tone = butter(1, [120, 7000], "bandpass", fs=RATE, output="sos")
    moor, heath = tmp_path / "moor", tmp_path / "heath"
    moor.mkdir()
    heath.mkdir()
    for number, piece in enumerate(PIECES):
        writing.write(moor / f"{piece}.wav", played[piece, "sallow"])
        late = np.concatenate([np.zeros((round(1.1 * RATE), 2)), 0.25 * played[piece, "bracken"].samples])
        late = sosfilt(tone, late, axis=0)
        late += rng.normal(0, 0.01 * late.std(), late.shape)
        writing.write(heath / f"recorder {9 - number}.wav", resample(Clip(late, RATE), 44_100))
    spare = heath / "Front_Left.wav"
    writing.write(spare, reading.read(Path("/usr/share/sounds/alsa/Front_Left.wav")))
    found = pairing.pair(sorted(moor.iterdir()), sorted(heath.iterdir()))
    wanted = {(f"{piece}.wav", f"recorder {9 - number}.wav", "content") for number, piece in enumerate(PIECES)}
    assert {(pair.a.name, pair.b.name, pair.by) for pair in found.pairs} == wanted
    assert [pair.name for pair in found.pairs] == sorted(PIECES)
    assert found.left_a == ()
    assert found.left_b == (spare,)


def test_other_music_finds_no_partner(tmp_path: Path, played: dict[tuple[str, str], Clip]) -> None:
    writing.write(tmp_path / "a.wav", played["voice", "sallow"])
    writing.write(tmp_path / "b.wav", played["chords", "sallow"])
    found = pairing.pair([tmp_path / "a.wav"], [tmp_path / "b.wav"])
    assert found == pairing.Pairing((), (tmp_path / "a.wav",), (tmp_path / "b.wav",))


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path, played: dict[tuple[str, str], Clip]) -> None:
    writing.write(tmp_path / "a.wav", played["voice", "sallow"])
    (tmp_path / "broken.wav").write_bytes(b"RIFF....")
    with pytest.raises(FileError, match=r"broken\.wav"):
        pairing.pair([tmp_path / "a.wav"], [tmp_path / "broken.wav"])


def test_the_limit_lies_between_the_same_music_and_other_music(played: dict[tuple[str, str], Clip]) -> None:
    same = [
        pairing.same_music(played[piece, one], played[piece, other])
        for piece in PIECES
        for one, other in combinations(SPEAKERS, 2)
    ]
    other_music = [
        pairing.same_music(played[one, "sallow"], played[two, speaker])
        for one, two in combinations(PIECES, 2)
        for speaker in ("sallow", "bracken")
    ]
    assert min(same) >= SAME_AT_LEAST > pairing.SAME_MUSIC > OTHER_AT_MOST >= max(other_music)


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 22_050, 44_100, 96_000])
def test_any_rate_keeps_its_time_over_a_minute(played: dict[tuple[str, str], Clip], rate_hz: int) -> None:
    """At 11 025 Hz a step of 20 ms is 220.5 frames: rounded to 220 it would run away by 0.14 s in a minute."""
    minute = {
        speaker: Clip(np.concatenate([played[piece, speaker].samples for piece in PIECES]), RATE)
        for speaker in ("sallow", "bracken")
    }
    assert pairing.same_music(minute["sallow"], resample(minute["bracken"], rate_hz)) >= SAME_AT_LEAST


def test_a_level_a_turned_polarity_and_one_channel_do_not_matter(played: dict[tuple[str, str], Clip]) -> None:
    one, other = played["drums", "sallow"], played["drums", "bracken"].samples
    for changed in (0.03 * other, -other, other[:, :1], np.repeat(other, 2, axis=1)):
        assert pairing.same_music(one, Clip(changed, RATE)) >= SAME_AT_LEAST


def test_likeness_is_the_same_both_ways_and_whole_with_oneself(played: dict[tuple[str, str], Clip]) -> None:
    one, other = played["strings", "sallow"], played["voice", "bracken"]
    assert pairing.same_music(one, other) == pytest.approx(pairing.same_music(other, one), abs=1e-9)
    assert pairing.same_music(one, one) == pytest.approx(1.0, abs=1e-9)


def test_steady_noise_is_no_music_to_know(played: dict[tuple[str, str], Clip]) -> None:
    rng = np.random.default_rng(1)
    noise = [Clip(rng.normal(0, 0.1, (6 * RATE, 2)), RATE) for _ in range(2)]
    assert pairing.same_music(*noise) < OTHER_AT_MOST
    assert pairing.same_music(noise[0], played["texture", "sallow"]) < OTHER_AT_MOST


def test_samples_that_are_no_numbers_are_refused(played: dict[tuple[str, str], Clip]) -> None:
    clip = played["drums", "sallow"]
    bad = clip.samples.copy()
    bad[1234, 1] = np.inf
    with pytest.raises(MeasureError, match="not numbers; export the file again"):
        pairing.same_music(clip, Clip(bad, RATE))
