"""Who listens: their noise dose where levels were known, and their runs for a threshold or a highest tone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue, hearing_rows, threshold_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.hearing_rows import KeptReach
from ..casebook.store import Casebook
from ..casebook.threshold_rows import KeptThreshold
from . import evening


@dataclass(frozen=True)
class ShownListener:
    """A listener: dose and warning in words (empty where no level is known), and runs, each in a sentence."""

    name: str
    note: str
    dose: str
    warning: str
    runs: Sequence[str]


def gather(casebook: Casebook) -> list[ShownListener]:
    """All listeners, in the order they were added."""
    thresholds, reaches = threshold_rows.every(casebook), hearing_rows.every(casebook)
    setups = catalogue.names(casebook, Setup)
    found = []
    for person in catalogue.everything(casebook, Listener):
        runs = [_threshold(one, setups) for one in thresholds if one.listener_id == person.id]
        runs += [_reach(one, setups) for one in reaches if one.listener_id == person.id]
        found.append(ShownListener(person.name, person.note, *evening.dose(casebook, person.id), runs))
    return found


def _threshold(one: KeptThreshold, setups: dict[str, str]) -> str:
    """What was looked for; what was found is told by the command, with all that it holds for."""
    sought = one.sought
    width = "" if sought.octaves is None else f" of {sought.octaves:g} octave"
    what = "a step of level" if sought.centre_hz is None else f"a {sought.kind}{width} around {sought.centre_hz} Hz"
    return f"{one.at[:10]}: the smallest change noticed, {what}{_through(one.setup_id, setups)}; {_end(one.complete)}"


def _reach(one: KeptReach, setups: dict[str, str]) -> str:
    return f"{one.at[:10]}: the highest tone noticed{_through(one.setup_id, setups)}; {_end(one.complete)}"


def _through(setup_id: str | None, setups: dict[str, str]) -> str:
    return "" if setup_id is None else f", through {setups.get(setup_id, 'a setup that is gone')}"


def _end(complete: bool) -> str:
    return "complete" if complete else "left before its end, so that it tells nothing yet"
