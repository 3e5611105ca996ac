"""Recordings laid against one another when they come in: what is cut, mended, asked and left out by it."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.alignment.delay import align
from audio.alignment.one_lag import Fit
from audio.alignment.pieces import Piece
from audio.clip import Clip
from audio.files import reading, writing
from audio.mend import Mend
from sessions.casebook import alignments, catalogue, documents, recordings
from sessions.casebook.alignments import Alignment
from sessions.casebook.catalogue import Passage, Setup, Track
from sessions.casebook.store import create, open_casebook
from sessions.commands import lags
from sessions.commands.lags import COHERENCE
from sessions.commands.main import main
from sessions.errors import CatalogueError
from sessions.preparation import giveaway_check, match_files, match_sheet, mends, track_alignment
from sessions.preparation.mends import PassageMend
from sessions.preparation.selection import select
from tests import casebooks, families

RATE_HZ = families.RATE_HZ
LENGTH_S = 16.0
LOOP_S = 2.655
Samples = NDArray[np.float64]
Folders = Callable[[dict[str, tuple[Samples, Samples]]], tuple[Path, Path]]


@pytest.fixture(scope="module")
def events() -> list[families.Event]:
    return families.score(np.random.default_rng(2), LENGTH_S)


@pytest.fixture(scope="module")
def piece(events: list[families.Event]) -> Samples:
    return families.played(events, LENGTH_S)


@pytest.fixture(scope="module")
def loop(piece: Samples) -> Samples:
    """The same 2.655 s five times over, between two pauses."""
    turn = piece[5 * RATE_HZ : 5 * RATE_HZ + round(LOOP_S * RATE_HZ)]
    pause = np.zeros((RATE_HZ, 2))
    return np.concatenate([pause, *[turn] * 5, pause])


@pytest.fixture(autouse=True)
def nobody_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    """Writes each piece through one setup and another into two folders."""

    def write(pieces: dict[str, tuple[Samples, Samples]]) -> tuple[Path, Path]:
        homes = tmp_path / "moor", tmp_path / "heath"
        for place, home in enumerate(homes):
            home.mkdir()
            for name, both in pieces.items():
                quieter = both[place] * (0.5 / np.abs(both[place]).max())
                writing.write(home / f"{name}.wav", Clip(quieter, RATE_HZ))
        return homes

    return write


def after(silence_s: float, samples: Samples) -> Samples:
    return np.concatenate([np.zeros((round(silence_s * RATE_HZ), 2)), samples])


def through_another(samples: Samples) -> Samples:
    rng = np.random.default_rng(4)
    return families.noisy(rng, families.equaliser(rng, samples), 66.0)


def earwitness(folder: Path, *arguments: object) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main(["--casebook", str(folder), *map(str, arguments)])
    return int(str(left.value.code)), out.getvalue(), err.getvalue()


def done(folder: Path, *arguments: object) -> dict[str, Any]:
    status, out, err = earwitness(folder, *arguments, "--json")
    assert status == 0, err
    document: dict[str, Any] = json.loads(out)
    return document


def compared(book: Path, homes: tuple[Path, Path], *more: object) -> dict[str, Any]:
    return done(book, "compare", *homes, "--listener", "Ada", "--yes", "--no-listen", *more)


def off_s(book: Path, homes: tuple[Path, Path], true_late_s: float) -> list[float]:
    """By how far the prepared files of each passage play another place: from what is known of the recordings alone.

    Each prepared file is found again in its own recording, over the whole of it; the true lag is planted.
    """
    found = []
    with open_casebook(book) as casebook:
        sheet = next(match_sheet.newest_first(casebook)).record
        for part in sheet.passages:
            starts = []
            for home, file in zip(homes, part.prepared.setups, strict=True):
                clip = reading.read(book / "prepared" / file.file)
                track = next(path for path in home.iterdir() if reading.sha256(path) == file.source)
                starts.append(_start_s(reading.read(track).samples[:, 0], clip.samples[:, 0]))
            found.append(starts[1] - starts[0] - true_late_s)
    return found


def _start_s(whole: Samples, cut: Samples) -> float:
    """Where a cut lies in its own recording: sample for sample but for fades, a gain and a part of a frame."""
    size = 1 << (len(whole) + len(cut)).bit_length()
    across = np.fft.irfft(np.fft.rfft(whole, size) * np.conj(np.fft.rfft(cut, size)), size)[: len(whole)]
    energy = np.concatenate([[0.0], np.cumsum(np.square(whole))])
    ends = np.minimum(np.arange(len(whole)) + len(cut), len(whole))
    held = np.sqrt(np.maximum(energy[ends] - energy[: len(whole)], 1e-9))
    likely = int(np.argmax(across / held))
    here = align(cut, whole[max(0, likely - 100) : likely + len(cut) + 100], RATE_HZ, 0.0, 0.02)
    assert here is not None
    return (max(0, likely - 100)) / RATE_HZ + here.delay_s


@pytest.mark.parametrize("late_s", [2.1, 4.0, -4.0])
def test_a_looped_piece_is_played_from_the_same_place(
    tmp_path: Path, folders: Folders, loop: Samples, late_s: float
) -> None:
    """Was sealed 2.655 s off ("mended" by −0.555 s) with a second copy 2.1 s later, and unmended with one 4 s off.

    The loop carries a fingerprint of noise far below the music, so that a cut can be found again in its recording.
    """
    marked = loop.copy()
    rng = np.random.default_rng(9)
    marked += 0.001 * rng.standard_normal(loop.shape)
    one, two = (marked, after(late_s, marked)) if late_s > 0 else (after(-late_s, marked), marked)
    homes = folders({"loop": (one, through_another(two))})
    document = compared(tmp_path / "book", homes)
    assert document["giveaways"]["ok"] is True
    assert document["laid"]["loop"]["best"]["lag_s"] == pytest.approx(late_s, abs=1e-4)
    assert max(abs(off) for off in off_s(tmp_path / "book", homes, late_s)) < 1e-3


def test_a_loop_that_fits_twice_is_left_out_with_the_way_to_choose_and_goes_on_when_chosen(
    tmp_path: Path, folders: Folders, loop: Samples, piece: Samples
) -> None:
    bare = loop[RATE_HZ:-RATE_HZ]
    pieces = {"loop": (bare, through_another(bare)[round(2.1 * RATE_HZ) :]), "song": (piece, through_another(piece))}
    homes = folders(pieces)
    document = compared(tmp_path / "book", homes)
    (out,) = document["left_out"]
    assert out["track"] == "loop"
    assert "the music repeats itself" in out["why"]
    assert " compare " in out["why"]
    assert "--lag loop=-2.100 (or " in out["why"]
    assert {part["track"] for part in document["passages"]} == {"song"}
    again = compared(tmp_path / "again", homes, "--lag", "loop=-2.1")
    assert again["left_out"] == []
    assert again["laid"]["loop"]["chosen"] is True
    assert {part["track"] for part in again["passages"]} == {"loop", "song"}


def test_another_take_is_left_out_and_the_rest_goes_on(
    tmp_path: Path, folders: Folders, piece: Samples, events: list[families.Event]
) -> None:
    take = families.played(families.another_take(np.random.default_rng(3), events, 0.008), LENGTH_S)
    homes = folders({"song": (piece, through_another(piece)), "take": (piece, through_another(take))})
    document = compared(tmp_path / "book", homes)
    (out,) = document["left_out"]
    assert out["track"] == "take"
    assert "do not hold the same performance" in out["why"]
    assert document["giveaways"]["ok"] is True
    assert len(document["seal"]) == 64
    with open_casebook(tmp_path / "book") as casebook:
        assert [track.name for track in catalogue.everything(casebook, Track)] == ["song"]


@pytest.mark.parametrize("late_s", [9.0])
def test_a_long_lead_in_pairs_by_content_and_is_cut_clear_of_the_ends(
    tmp_path: Path, folders: Folders, piece: Samples, late_s: float
) -> None:
    homes = folders({"song": (piece, through_another(after(late_s, piece)))})
    (homes[1] / "song.wav").rename(homes[1] / "take seven.wav")
    document = compared(tmp_path / "book", homes)
    assert document["pairs"][0]["by"] == "content"
    assert document["giveaways"]["ok"] is True
    assert max(abs(off) for off in off_s(tmp_path / "book", homes, late_s)) < 1e-4


def test_an_offset_and_a_clock_below_their_limits_are_mended(tmp_path: Path, folders: Folders, piece: Samples) -> None:
    """0.9 ms and 20 ppm: neither is a giveaway of its own, and neither stays."""
    from scipy.interpolate import make_interp_spline

    whole = after(0.0009, piece)
    curve = make_interp_spline(np.arange(len(whole)), whole, k=5)
    slow = curve(np.arange(len(whole) - 100) / (1 + 20e-6))
    homes = folders({"song": (piece, through_another(slow))})
    document = compared(tmp_path / "book", homes)
    mend = document["giveaways"]["mended"][0]
    start_s = document["passages"][0]["start_s"]
    assert mend["stretch_ppm"] == pytest.approx(20.0, abs=1.0)
    assert mend["delay_s"] == pytest.approx(0.0009 + 20e-6 * start_s, abs=30e-6)


def test_what_was_found_is_kept_and_shown_with_the_next_best(tmp_path: Path, folders: Folders, loop: Samples) -> None:
    homes = folders({"loop": (loop, after(2.1, through_another(loop)))})
    book = tmp_path / "book"
    earwitness(book, "new", book)
    for home in homes:
        done(book, "setup", "add", home.name, "--from", home)
    shown = done(book, "track", "align", "loop")["laid"]["heath"]
    assert shown["best"]["lag_s"] == pytest.approx(2.1, abs=1e-4)
    assert shown["settled"] is True
    assert 0 < shown["certainty"] <= 1
    with open_casebook(book) as casebook:
        (track,) = catalogue.everything(casebook, Track)
        kept = alignments.in_force(casebook, recordings.of_track(casebook, track))
        assert casebooks.chain_holds(casebook)
    (one,) = kept.values()
    assert one.best is not None
    assert one.best.lag_s == shown["best"]["lag_s"]
    assert one.recording_sha256 == reading.sha256(homes[1] / "loop.wav")


def test_a_loop_that_fits_twice_is_not_matched_until_somebody_chose(
    tmp_path: Path, folders: Folders, loop: Samples
) -> None:
    bare = loop[RATE_HZ:-RATE_HZ]
    homes = folders({"loop": (bare, through_another(bare)[round(2.1 * RATE_HZ) :])})
    book = tmp_path / "book"
    earwitness(book, "new", book)
    done(book, "setup", "add", "moor", "--from", homes[0])
    assert (
        f"choose: earwitness --casebook {book} track align loop --lag heath=-2.100 (or "
        in earwitness(book, "setup", "add", "heath", "--from", homes[1])[1]
    )
    status, _, err = earwitness(book, "passage", "suggest", "--add")
    assert status == 2
    assert err.count("\n") == 1
    assert f"choose: earwitness --casebook {book} track align loop --lag heath=-2.100 (or " in err
    status, _, err = earwitness(book, "track", "align", "loop", "--lag", "heath=1.0")
    assert (status, err.count("\n")) == (2, 1)
    done(book, "track", "align", "loop", "--lag", "heath=-2.1")
    done(book, "passage", "suggest", "--add")
    assert done(book, "match", "files")["ok"] is True


def test_every_turn_of_a_loop_that_may_be_chosen_is_told_and_is_what_comes_next(
    tmp_path: Path, folders: Folders, events: list[families.Event]
) -> None:
    """One begins 1.3 s late: a turn earlier some of it meets that silence, and that may be chosen too."""
    turn = families.played(events, 3.0)[: 3 * RATE_HZ]
    six = np.concatenate([turn] * 6)
    homes = folders({"loop": (six, after(1.3, through_another(six))[: len(six)])})
    book = tmp_path / "book"
    earwitness(book, "new", book)
    for home in homes:
        earwitness(book, "setup", "add", home.name, "--from", home)
    said = done(book, "status")
    assert said["unplaced"] == ["loop"]
    assert said["next"].endswith("track align loop")
    turns_s = [1.3 + 3.0 * turn for turn in range(-4, 4)]  # 40 % of 18 s are in both
    told = earwitness(book, "track", "align", "loop")[1]
    assert (
        "may lie 1.300 s late, 1.700 s early, 4.300 s late or 4.700 s early in 'loop' (and 4 more, every 3.000 s)"
        in told
    )
    assert "(1.700 s early and 4.700 s early, some of it meets silence)" in told
    for turn_s in (-1.7, 4.3):
        laid = done(book, "track", "align", "loop", "--lag", f"heath={turn_s}")["laid"]["heath"]
        others = [fit["lag_s"] for fit in laid["equals"]]
        assert sorted([turn_s, *others]) == pytest.approx(turns_s, abs=1e-3)
        assert "fits as well at 1.300 s late and at 6 other places" in earwitness(book, "track", "align", "loop")[1]
    assert done(book, "status")["unplaced"] == []


def test_what_was_prepared_from_another_place_before_is_found(tmp_path: Path, folders: Folders, loop: Samples) -> None:
    """A casebook of before the whole tracks were laid: its mend is one turn off."""
    homes = folders({"loop": (loop, after(2.1, through_another(loop)))})
    book = tmp_path / "book"
    earwitness(book, "new", book)
    for home in homes:
        done(book, "setup", "add", home.name, "--from", home)
    done(book, "passage", "add", "loop", "--from", "3", "--to", "11")
    with open_casebook(book) as casebook:
        selection = select(casebook, [], [])
        (passage,), setups = selection.passages, selection.setups
        assert mends.in_force(casebook, setups, passage)[setups[1].id].delay_s == pytest.approx(2.1, abs=1e-4)
        wrong = Mend(delay_s=-0.555)
        mends.keep(casebook, [PassageMend(setups[1].id, "heath", passage.id, passage.name, wrong, "as it was")])
        assert mends.in_force(casebook, setups, passage)[setups[1].id].delay_s == pytest.approx(2.1, abs=1e-4)
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(mends, "in_force", lambda *_: {setups[1].id: wrong})
            match_files.make_match_sheet(casebook, selection)
        check = giveaway_check.check(casebook, selection)
        assert [found.kind for found in check.findings] == ["performance"]
        assert check.findings[0].measured == pytest.approx(-2655, abs=1)
        match_files.make_match_sheet(casebook, selection)
        assert giveaway_check.check(casebook, selection).ok


def test_a_passage_that_only_one_recording_holds_is_refused(tmp_path: Path, folders: Folders, piece: Samples) -> None:
    homes = folders({"song": (piece, through_another(piece)[4 * RATE_HZ :])})
    book = tmp_path / "book"
    earwitness(book, "new", book)
    for home in homes:
        done(book, "setup", "add", home.name, "--from", home)
    status, _, err = earwitness(book, "passage", "add", "song", "--from", "2", "--to", "9")
    assert (status, err.count("\n")) == (2, 1)
    assert "before" in err
    assert "choose a start from 0:04.00" in err
    done(book, "passage", "add", "song", "--from", "5", "--to", "9")
    with open_casebook(book) as casebook, pytest.raises(CatalogueError, match="is the track's first"):
        track, setup = catalogue.find(casebook, Track, "song"), catalogue.find(casebook, Setup, "moor")
        track_alignment.choose(casebook, track, setup, 0.0)


def test_a_track_with_a_cut_is_compared_clear_of_it(tmp_path: Path, folders: Folders) -> None:
    """1.3 s are missing in mid-track: the whole track was left out, though both sides of the cut fit."""
    length_s, cut_s, lacks_s = 36.0, 16.0, 1.3
    whole = families.played(families.score(np.random.default_rng(12), length_s), length_s)
    cut = np.concatenate([whole[: round(cut_s * RATE_HZ)], whole[round((cut_s + lacks_s) * RATE_HZ) :]])
    homes = folders({"song": (whole, through_another(cut))})
    book = tmp_path / "book"
    document = compared(book, homes, "--around", "song=0:25", "--around", "song=0:08")
    assert document["left_out"] == []
    assert document["giveaways"]["ok"] is True
    before, after = document["laid"]["song"]["pieces"]
    assert (before["lag_s"], after["lag_s"]) == pytest.approx((0.0, -lacks_s), abs=1e-4)
    spans = [(part["start_s"], part["end_s"]) for part in document["passages"]]
    assert len(spans) >= 2
    assert any(end <= cut_s - 0.1 for _, end in spans)
    assert any(start >= cut_s + lacks_s + 0.1 for start, _ in spans)
    assert all(end <= cut_s - 0.1 or start >= cut_s + lacks_s + 0.1 for start, end in spans)
    for (start, _), mend in zip(spans, document["giveaways"]["mended"], strict=False):
        assert mend["delay_s"] == pytest.approx(0.0 if start < cut_s else -lacks_s, abs=1e-3)
        if start >= cut_s:
            assert mend["why"].startswith("by the part of it from 0:17.3 on heath lies 1.300 s early")
    told = earwitness(book, "track", "align", "song")[1]
    assert told.splitlines()[2:] == [COHERENCE]
    assert "at 0:16.0 it lacks 1.300 s" in told
    status, _, err = earwitness(book, "passage", "add", "song", "--from", "12", "--to", "20")
    assert (status, err.count("\n")) == (2, 1)
    assert f"runs across a cut in {homes[1] / 'song.wav'} or in {homes[0] / 'song.wav'} (which of them was cut" in err
    assert "from 0:00.0 to 0:16.0 and from 0:17.3 to 0:36.0" in err
    status, _, err = earwitness(book, "passage", "suggest", "song", "--around", "song=0:16.5")
    assert (status, err.count("\n")) == (2, 1)
    assert "hold the moment 0:16.5; choose one from 0:00" in err


@pytest.mark.parametrize(
    ("done", "when"),
    [
        (Mend(0.037091, stretch_ppm=-35.0), " where the passage begins"),
        (Mend(0.037091), " in the middle of the passage"),
    ],
)
def test_where_a_recording_on_another_clock_lies_is_told_with_the_moment(done: Mend, when: str) -> None:
    """At -35 ppm a recording 38.130 ms late at the beginning is 37.091 ms late 29.7 s later: both are true."""
    best = Fit(0.038130, -35.0, 0.9, 0.0, 0.0, None, over_s=60.0)
    laid = Alignment("a", "b", "", "", best, None, 1.0, 1.0, settled=True)
    assert "lies 38.130 ms late where the track begins, its clock -35.0 ppm off" in lags.described(
        laid, "reel", "fen", ""
    )
    passage, setup = Passage("p", "t", "air", 29_686 * 48, 480_000, 48_000, "", ""), Setup("s", "fen", "files", "", "")
    assert mends._place(setup, passage, done, laid) == f"by its whole recording fen lies 37.091 ms late{when}"
    still = replace(laid, best=replace(best, ppm=0.0))
    assert mends._place(setup, passage, Mend(0.037091), still).endswith("lies 37.091 ms late")


def test_a_later_piece_is_told_where_it_begins_and_ends() -> None:
    """From 0:30 on the clock runs 150 ppm slow: 4.5 ms early at 1:00, and not late by its line at time 0."""
    pieces = Piece(0.0, 30.0, 0.0, 0.0, 0.9, None), Piece(30.0, 60.0, 0.0045, -150.0, 0.9, None)
    best = Fit(0.0, 0.0, 0.9, 0.0, 0.0, None)
    laid = Alignment("a", "b", "", "", best, None, 1.0, 1.0, settled=True, pieces=pieces)
    told = lags.described(laid, "reel", "heath", "")
    later = "at its beginning it lies at the same place, at its end 4.500 ms early, its clock -150.0 ppm off"
    assert f"from 0:30.0 to 1:00.0: {later} (coherence" in told
    assert "from 0:00.0 to 0:30.0 it lies at the same place (coherence" in told
    assert "late" not in told
    document = lags.document_of(laid)
    assert document["lag_at_s"] == 0.0
    assert [each["lag_s"] for each in document["pieces"]] == [0.0, 0.0045]
    ends = [(each["start_lag_s"], each["end_lag_s"]) for each in document["pieces"]]
    np.testing.assert_allclose(ends, [(0.0, 0.0), (0.0, -0.0045)], atol=1e-12)


@pytest.mark.parametrize(
    ("silent", "who"),
    [((0, 1), "moor and heath are silent"), ((0,), "moor is silent"), ((1,), "heath is silent")],
)
def test_silence_is_called_silence(
    tmp_path: Path, folders: Folders, piece: Samples, silent: tuple[int, ...], who: str
) -> None:
    """It was called another performance, at a coherence of 0.00."""
    homes = folders({"song": (piece, through_another(piece)), "pause": (piece, piece)})
    for place in silent:
        writing.write(homes[place] / "pause.wav", Clip(np.zeros((8 * RATE_HZ, 2)), RATE_HZ))
    book = tmp_path / "book"
    (out,) = compared(book, homes)["left_out"]
    assert out == {"track": "pause", "why": f"{who}: there is nothing to compare"}
    said = f"{who.replace('moor', 'the first recording')}: there is nothing to compare\n"
    other = tmp_path / "other"
    with create(other):
        pass
    for home in homes:
        assert earwitness(other, "setup", "add", home.name, "--from", home)[0] == 0
    against = "'pause', against the recording of moor, which is the first of this track:\n"
    assert earwitness(other, "track", "align", "pause")[1] == against + said
    assert done(other, "track", "align", "pause")["laid"]["heath"]["silent"]
    status, _, err = earwitness(other, "passage", "suggest", "pause")
    assert (status, err) == (2, f"earwitness: no passage of 'pause': {said}")


def test_a_moment_that_one_recording_lacks_is_named_and_the_rest_is_kept(
    tmp_path: Path, folders: Folders, piece: Samples
) -> None:
    """The whole track was left out, though the passage in which its recordings differ was good."""
    homes = folders({"song": (piece, through_another(piece[: 12 * RATE_HZ]))})
    document = compared(tmp_path / "book", homes, "--around", "song=0:13.5", "--around", "song=0:05")
    assert [part["track"] for part in document["passages"]] == ["song"] * len(document["passages"])
    assert [mark for part in document["passages"] for mark in part["marks_s"]] == [5.0]
    (out,) = document["left_out"]
    assert out["track"] == "song"
    assert "not all recordings of 'song' hold the moment 0:13.5; choose one from 0:00" in out["why"]


def test_a_lag_that_rooms_hide_is_told_as_unsure_and_kept_so() -> None:
    best = Fit(0.0, 0.0, 0.8, 0.0, 0.0, 1e-6, 10.0)
    plain = Alignment("one", "two", "a", "b", best, None, 1.0, 1.0, settled=True)
    assert lags.in_place(plain)
    assert "hidden" not in plain.to_document()
    hidden = replace(plain, hidden=True)
    assert not lags.in_place(hidden)
    assert documents.from_text(documents.text_of(hidden.to_document()), Alignment) == hidden
    told = lags.described(hidden, "reel", "heath", "")
    assert "rooms louder than the direct sound hide where it begins" in told
    assert "no other place" not in told
