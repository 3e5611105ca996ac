"""The noise dose of each listener at the desk: what was heard here at a known level, and what that uses up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audio import track_time

from ..casebook import catalogue, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import ExposureRecord
from ..casebook.store import Casebook
from ..listening import exposure
from .office import Office


@dataclass(frozen=True)
class ShownDose:
    """A listener's: for how long, how loud at most, the day's dose and the week's allowance, and the warning."""

    listener: str
    heard: str
    loudest: str
    day: str
    week: str
    sensitive: str
    warning: str


@dataclass(frozen=True)
class Doses:
    """The page: who has heard something at a known level, who has not, and how one comes to be known.

    `stated` is empty where listeners' own devices play: one reading holds for none of them.
    """

    known: Sequence[ShownDose]
    unknown: Sequence[str]
    calibrate: str
    stated: str


def gather(casebook: Casebook, office: Office) -> Doses:
    """The doses of all listeners."""
    people = catalogue.everything(casebook, Listener)
    heard = {one.id: session_rows.exposures(casebook, one.id) for one in people}
    return Doses(
        [_dose(casebook, one, heard[one.id]) for one in people if heard[one.id]],
        [one.name for one in people if not heard[one.id]],
        f"{office.hint} level calibrate --mic DEVICE:1 --calibrator 94",
        "" if office.own_sound else f"{office.hint} serve --dba LEVEL",
    )


def _dose(casebook: Casebook, person: Listener, heard: Sequence[ExposureRecord]) -> ShownDose:
    found = exposure.dose(casebook, person.id)
    sensitive = exposure.dose(casebook, person.id, "sensitive")
    loudest = max(one.level_dba_hundredths for one in heard) / 100
    return ShownDose(
        person.name,
        track_time.for_how_long(exposure.heard_s(casebook, person.id)),
        f"{loudest:.1f} dBA",
        f"{found.day_percent:.1f} %",
        f"{found.week_percent:.1f} %",
        f"{sensitive.week_percent:.1f} %",
        found.warning or sensitive.warning,
    )
