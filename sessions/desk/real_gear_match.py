"""Gear in the room at the desk: how it is matched by microphone, and by voltmeter readings that are typed in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from shlex import quote

from audio.room import voltmeter

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import volt_readings
from ..preparation.selection import Selection, check_real, select
from .office import Office

QUIET = "Start quiet: turn the volume down before the first noise, then up to your listening level; protect your ears."


@dataclass(frozen=True)
class RealGear:
    """The page of matching gear: the setups (none where all are recordings), commands, cautions, and what is read."""

    setups: Sequence[str]
    passages: int
    by_microphone: str
    by_voltmeter: str
    quiet: str
    cautions: Sequence[str]
    frequencies_hz: Sequence[str]
    match_hz: str


@dataclass(frozen=True)
class Read:
    """Readings before the trims, each as ``SETUP@HZ=VOLTS``."""

    readings: tuple[str, ...] = ()


def gather(casebook: Casebook, office: Office) -> RealGear:
    """How the gear of a casebook is matched."""
    real = _names(casebook)
    named = "".join(f" --setup {quote(name)}" for name in real)
    return RealGear(
        real,
        len(catalogue.everything(casebook, Passage)),
        f"{office.hint} match mic --mic DEVICE:1{named}",
        f"{office.hint} match volts{named}",
        QUIET,
        voltmeter.CAUTIONS,
        [f"{hz:g}" for hz in voltmeter.FREQUENCIES_HZ],
        f"{voltmeter.MATCH_HZ:g}",
    )


def trims(casebook: Casebook, given: Read) -> str:
    """How much lower each setup is played, by whom, and what is read again, in sentences.

    Raises
    ------
    CatalogueError, MeasureError
        If a reading is missing or no voltage, or the setups are not gear that can be compared.
    """
    selection = gear(casebook)
    check_real(selection)
    before = volt_readings.read_before([setup.name for setup in selection.setups], given.readings)
    return f"The trims: {volt_readings.trims_in_words(before)}. {volt_readings.told(before)}"


def gear(casebook: Casebook) -> Selection:
    """The gear of a casebook, and the passages of music that it can play; recordings are matched elsewhere.

    Raises
    ------
    CatalogueError
        If there is less than two of it, or no such passage.
    """
    names = _names(casebook)
    music = {
        track.id
        for track in catalogue.everything(casebook, Track)
        if any(one.setup_id is None for one in recordings.of_track(casebook, track))
    }
    passages = [one for one in catalogue.everything(casebook, Passage) if one.track_id in music]
    if names and not passages:
        raise CatalogueError("no passage of music that gear plays; add music: earwitness track music FOLDER")
    return select(casebook, names, [one.name for one in passages] if names else [])


def _names(casebook: Casebook) -> list[str]:
    return [one.name for one in catalogue.everything(casebook, Setup) if one.is_real]
