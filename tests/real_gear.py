"""Real setups for tests: music in a casebook, and a match by voltmeter readings that were never read."""

from __future__ import annotations

from audio.room import voltmeter
from demo_tracks import tracks
from sessions.casebook import catalogue, passages
from sessions.casebook.store import Casebook
from sessions.preparation import match_real_gear, recording_folder
from sessions.preparation.match_sheet import MatchSheet
from sessions.preparation.selection import select

PASSAGE_S = 2.0


def add_music(casebook: Casebook) -> None:
    """Two tracks with their music, and a passage of each."""
    for piece in ("strings", "drums"):
        track = catalogue.keep(casebook, catalogue.new_track(casebook, piece))
        recording_folder.keep(casebook, [recording_folder.collected(casebook, None, track, tracks.path(piece))])
        passages.add(casebook, track, 48_000, round(PASSAGE_S * 48_000), 48_000, f"{piece} 1")


def volts(one: str, other: str) -> dict[str, dict[float, voltmeter.Volts]]:
    """The same reading of sallow at every frequency, and another of bracken."""
    return {
        "sallow": {freq: voltmeter.parse(one) for freq in voltmeter.FREQUENCIES_HZ},
        "bracken": {freq: voltmeter.parse(other) for freq in voltmeter.FREQUENCIES_HZ},
    }


def match_volts(casebook: Casebook, after: str = "2.000") -> MatchSheet:
    """Matched by voltmeter: sallow reads 2.5 V before its trim and `after` with it, bracken 2 V."""
    with_trims = {"sallow": voltmeter.parse(after), "bracken": voltmeter.parse("2.000")}
    selection = select(casebook, [], [])
    return match_real_gear.by_voltmeter(casebook, selection, volts("2.500", "2.000"), with_trims)
