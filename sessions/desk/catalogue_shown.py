"""The catalogue at the desk: setups with their chains, tracks with their recordings, passages with their evidence."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audio import track_time

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..plans import overview, standing_words
from ..plans.standing_words import counted
from ..plans.standings import PassageStanding, SetupStanding


@dataclass(frozen=True)
class ShownSetup:
    """A setup: what it plays through, its note, and what is not as it should be."""

    name: str
    plays: str
    note: str
    has: str
    measured: str
    faults: Sequence[str]


@dataclass(frozen=True)
class ShownRecording:
    """A file of a track: whose it is, how long, and where it lies."""

    setup: str
    length: str
    rate: str
    path: str


@dataclass(frozen=True)
class ShownTrack:
    """A track and its files."""

    name: str
    note: str
    recordings: Sequence[ShownRecording]


@dataclass(frozen=True)
class Setups:
    """The page of setups and tracks."""

    setups: Sequence[ShownSetup]
    tracks: Sequence[ShownTrack]
    unplaced: Sequence[str]
    real: bool


@dataclass(frozen=True)
class ShownPassage:
    """A passage: where it lies, how it is matched and checked, what is to be known of it; whose its waveforms are."""

    name: str
    track: str
    place: str
    note: str
    match: str
    check: str
    matched: str
    notes: Sequence[str]
    well: bool
    rows: Sequence[str]


@dataclass(frozen=True)
class Passages:
    """The page of passages, and what can be done for all of them.

    Attributes
    ----------
    recordings
        Which setups and passages that is done for, where there is gear beside recordings; else all.
    """

    passages: Sequence[ShownPassage]
    can_match: bool
    can_suggest: bool
    mend: bool
    polarity: bool
    recordings: Mapping[str, Sequence[str]]
    gear: bool


def setups(casebook: Casebook) -> Setups:
    """Setups and tracks as they stand."""
    stands = overview.gather(casebook)
    names = catalogue.names(casebook, Setup)
    return Setups(
        [_setup(one) for one in stands.setups],
        [_track(casebook, one, names) for one in catalogue.everything(casebook, Track)],
        stands.unplaced,
        any(one.kind != "files" for one in stands.setups),
    )


def _setup(one: SetupStanding) -> ShownSetup:
    faults = [f"{path} is moved or gone" for path in one.missing_files]
    faults += [f"{path} is not what was added any more" for path in one.changed_files]
    faults += [f"{path} was written since it was added" for path in one.unread_files]
    faults += [f"lacks {name}; {_adding(one, name)}" for name in one.lacks]
    measured = [counted(one.curves, "curve")] if one.curves else []
    measured += [f"{counted(one.facts, 'fact')} of its maker"] if one.facts else []
    return ShownSetup(
        one.name, one.plays, one.note, f"{len(one.tracks)} of {len(one.tracks) + len(one.lacks)} tracks",
        ", ".join(measured), faults,
    )  # fmt: skip


def _adding(one: SetupStanding, track: str) -> str:
    """How a setup comes to a track, as it is typed: a recording of it, or for gear the music that it is to play."""
    if one.kind == "files":
        return f"add its recording: earwitness track add {shlex.quote(track)} --file {shlex.quote(one.name)}=FILE"
    return f"add the music it plays: earwitness track add {shlex.quote(track)} --music FILE"


def _track(casebook: Casebook, track: Track, names: dict[str, str]) -> ShownTrack:
    files = [
        ShownRecording(
            "the music itself" if one.setup_id is None else names.get(one.setup_id, one.setup_id),
            track_time.told(one.length_s, 1),
            f"{one.rate_hz / 1000:g} kHz, {one.channels} ch",
            one.path,
        )
        for one in recordings.of_track(casebook, track)
    ]
    return ShownTrack(track.name, track.note, files)


def passages(casebook: Casebook) -> Passages:
    """Passages as they stand."""
    stands = overview.gather(casebook)
    files = [one for one in stands.setups if one.kind == "files" and one.tracks]
    real = any(one.kind != "files" for one in stands.setups)
    repairs = {repair for one in stands.passages for repair in one.repairs}
    common = [one.name for one in stands.passages if all(one.track in own.tracks for own in files)]
    apart = {"setups": [one.name for one in files], "passages": common} if real else {}
    return Passages(
        [_passage(one, [own.name for own in files if one.track in own.tracks]) for one in stands.passages],
        len(files) > 1 and bool(common if real else stands.passages),
        len(files) > 1,
        bool(repairs) and len(files) > 1,
        "polarity" in repairs,
        apart,
        real,
    )


def _passage(one: PassageStanding, rows: Sequence[str]) -> ShownPassage:
    end_s = one.start_s + one.length_s
    return ShownPassage(
        one.name,
        one.track,
        f"{track_time.told(one.start_s, 1)} to {track_time.told(end_s, 1)}",
        one.note,
        standing_words.match_words(one),
        standing_words.check_words(one),
        ", ".join(one.matched),
        one.notes,
        one.match == "ok" and one.check == "clean",
        rows,
    )
