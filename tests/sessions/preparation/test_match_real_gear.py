"""Matching real setups by readings: what is prepared, and for which passages a sheet holds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audio.files import reading
from audio.levels.weighting import BY, level_db
from audio.room import voltmeter
from demo_tracks import tracks
from sessions.casebook import catalogue, passages, playback_chain, recordings
from sessions.casebook.catalogue import Setup, Track
from sessions.casebook.store import Casebook, create
from sessions.errors import CatalogueError
from sessions.preparation import match_files, match_real_gear, match_sheet
from sessions.preparation.meanings import meanings
from sessions.preparation.selection import select
from tests.real_gear import add_music, match_volts, volts


def test_what_is_prepared_is_the_music_with_the_trim_and_the_delay(routed: Casebook) -> None:
    sheet = match_volts(routed)
    assert sheet.ok
    setups = {setup.name: setup.id for setup in catalogue.everything(routed, Setup)}
    assert sheet.trim_of(setups["sallow"]) == pytest.approx(20 * np.log10(2.0 / 2.5))
    part = sheet.passages[0]
    files = {file.setup: routed.prepared / file.file for file in part.prepared.setups}
    sound = {name: reading.read(files[setup_id]).samples for name, setup_id in setups.items()}
    applied = {name: part.setups_of([setup_id])[0].gain_db for name, setup_id in setups.items()}
    assert applied["sallow"] - applied["bracken"] == pytest.approx(20 * np.log10(2.0 / 2.5))
    whole = reading.read(tracks.path("strings")).samples
    for name, delay in (("sallow", 0), ("bracken", 96)):
        begin = 48_000 - delay
        expected = whole[begin : begin + 96_000] * 10 ** (applied[name] / 20)
        inside = slice(480, -480)  # between the fades at its ends
        np.testing.assert_allclose(sound[name][inside], expected[inside], atol=3 / 2**23)  # rounding and dither


def test_the_sheet_holds_for_later_passages_too(routed: Casebook) -> None:
    match_volts(routed)
    track = catalogue.find(routed, Track, "drums")
    passages.add(routed, track, 200_000, 96_000, 48_000, "later")
    selection = select(routed, [], [])
    assert match_sheet.newest(routed, selection) is None
    again = match_real_gear.further_passages(routed, selection)
    assert [part.passage for part in again.passages] == ["strings 1", "drums 1", "later"]
    assert match_sheet.newest(routed, selection) is not None
    assert again.trim_of(selection.setups[0].id) == pytest.approx(20 * np.log10(2.0 / 2.5))


def test_without_any_sheet_later_passages_have_nothing_to_go_by(routed: Casebook) -> None:
    with pytest.raises(CatalogueError, match="no microphone or voltmeter sheet of these setups yet"):
        match_real_gear.further_passages(routed, select(routed, [], []))


def test_a_single_loudspeaker_plays_the_mean_of_both_channels(tmp_path: Path) -> None:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed(":1"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed(":2"))
        add_music(casebook)
        part = match_volts(casebook).passages[0]
        applied = part.setups[1].gain_db
        sound = reading.read(casebook.prepared / part.prepared.setups[1].file).samples
        whole = reading.read(tracks.path("strings")).samples[48_000:144_000]
        assert sound.shape == (96_000, 1)
        expected = whole.mean(axis=1, keepdims=True) * 10 ** (applied / 20)
        np.testing.assert_allclose(sound[480:-480], expected[480:-480], atol=3 / 2**23)


def test_real_setups_have_no_recordings_and_files_no_microphone(routed: Casebook) -> None:
    setup, track = catalogue.find(routed, Setup, "sallow"), catalogue.find(routed, Track, "drums")
    with pytest.raises(CatalogueError, match="is real gear and has no recordings"):
        recordings.new(routed, setup, track, tracks.path("drums"))
    with pytest.raises(CatalogueError, match="match files works on recordings"):
        match_files.make_match_sheet(routed, select(routed, [], []))
    with pytest.raises(CatalogueError, match="has its music already"):
        recordings.new_music(routed, track, tracks.path("drums"))


def test_a_trim_that_did_not_take_is_more_than_the_tolerance(routed: Casebook) -> None:
    sheet = match_volts(routed, after="2.040")  # the reading with the trim on stands 0.17 dB above the other
    assert sheet.residual_lu == pytest.approx(20 * np.log10(2.04 / 2.0))
    assert not sheet.ok


def test_what_other_meanings_would_have_given_is_told_of_the_music_behind_the_chains(routed: Casebook) -> None:
    """Chains alike in response: none matters. One whose bass is 3 dB weaker: each measure's own loss of the music."""
    alike = meanings(match_volts(routed))
    assert alike is not None
    assert {one.by for one in alike.given} == {"volts", *BY}
    assert alike.most_db < 0.05
    weak = volts("2.500", "2.000")
    weak["bracken"][100.0] = voltmeter.parse(f"{2.0 * 10 ** (-3 / 20):.4f}")
    after = {name: voltmeter.parse("2.000") for name in weak}
    selection = select(routed, [], [])
    sheet = match_real_gear.by_voltmeter(routed, selection, weak, after)
    found = meanings(sheet)
    assert found is not None
    part = sheet.passages[0]
    loud, clip = (reading.read(routed.prepared / file.file) for file in part.prepared.setups)
    hz = np.fft.rfftfreq(clip.frames, 1 / clip.rate_hz)
    loss_db = np.interp(np.log10(np.maximum(hz, 1)), [2, 3], [-3, 0])
    thin = np.fft.irfft(np.fft.rfft(clip.samples, axis=0) * (10 ** (loss_db / 20))[:, None], clip.frames, axis=0)
    for by in BY:
        [after_db] = [one.after_db for one in part.meanings if one.by == by]
        levels = level_db(loud, by), level_db(replace(clip, samples=thin), by)
        assert levels[0] is not None
        assert levels[1] is not None
        expected = levels[1] - levels[0] + 20 * np.log10(2.0 / 2.5)
        assert after_db[1] - after_db[0] == pytest.approx(expected, abs=0.002)
    assert {own.by: own for own in found.given}["c"].gains_db[0][1] > 0.1
    again = match_real_gear.further_passages(routed, selection)
    assert [part.meanings for part in again.passages] == [part.meanings for part in sheet.passages]
