"""Which curves by angle belong to one measuring session, so that averages over them mean something. Pure.

Levels of different sessions are not comparable: another distance, gain or room would be read as directivity. Curves are
of one session where all that was said of how they were measured agrees; where their levels are not in dB SPL at a
stated voltage, the date too. A direction that was measured again at another level shows that the gain was changed
in between, and what is older than that is of another session.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from audio.curves.curve import mean_level
from audio.errors import MeasureError

from .conditions import ON_AXIS, STRAIGHT_UP, Direction, Plane
from .curve_records import DIRECTED, CurveRecord, SetupCurves
from .frequency_response import BAND_HZ, response_of

APART_DB = 1.0  # our choice: repeats after moving a microphone agree better over the middle
LEAST_ANGLES = 3  # fewer are a curve measured again, and no set


@dataclass(frozen=True, eq=False)
class OneSession:
    """The newest curve of each direction of one session; `left_out` says what is not mixed in, empty if nothing."""

    curves: Mapping[Direction, CurveRecord]
    left_out: str = ""


def one_session(
    measured: SetupCurves,
    completeness: Callable[[Mapping[Direction, CurveRecord]], int] = lambda curves: 0,
    plane: Plane | None = None,
) -> OneSession:
    """The curves of the session that gives most, the newest of equals.

    Parameters
    ----------
    completeness
        How much a set of directions gives; by default all give as much.
    plane
        Whose angles are wanted; None: those of both.
    """
    own = [one for one in measured.everything if one.kind in DIRECTED and one.conditions.one_of.alone]
    if not own:
        return OneSession(measured.directions)  # one curve that is shown alone
    sessions = sessions_of(own)

    def worth(session: Sequence[CurveRecord]) -> tuple[bool, bool, int]:
        curves = _newest(session)
        on_axis = ON_AXIS in curves or STRAIGHT_UP in curves
        angles = sum(plane in (None, one.plane) or one == ON_AXIS for one in curves)
        return on_axis, angles >= LEAST_ANGLES, completeness(curves)

    best = max(range(len(sessions)), key=lambda place: (worth(sessions[place]), place))
    return OneSession(_newest(sessions[best]), _left_out(sessions, best) if len(sessions) > 1 else "")


def sessions_of(records: Sequence[CurveRecord]) -> list[list[CurveRecord]]:
    """Curves (the newest last) by session, the one with the newest curve last."""
    alike: dict[tuple[object, ...], list[CurveRecord]] = {}
    for record in records:
        alike.setdefault(tuple(_how(record).values()), []).append(record)
    place = {record.id: number for number, record in enumerate(records)}
    found = [session for own in alike.values() for session in _at_one_level(own)]
    return sorted(found, key=lambda session: place[session[-1].id])


def _newest(session: Sequence[CurveRecord]) -> dict[Direction, CurveRecord]:
    return {one.direction: one for one in session}


def _how(record: CurveRecord) -> dict[str, object]:
    """What curves of one session share, by name."""
    own, taken = record.conditions, record.conditions.taken
    by_geometry = taken is not None and taken.microphone_height_m is not None  # each step has its own gate then
    absolute = own.spl and own.drive_volts and own.distance_m
    return {
        "distance": own.distance_m,
        "drive": (own.drive_volts, taken.sweep.amplitude if taken else None),
        "dB SPL": own.spl,
        "gate": "by geometry" if by_geometry else own.gate_ms and round(own.gate_ms, 2),
        "room": own.room,
        "axis": own.axis,
        "microphone": own.calibration,
        "smoothing": own.smoothing,
        "date": "" if absolute else own.when or record.at[:10],
    }


def _at_one_level(records: list[CurveRecord]) -> list[list[CurveRecord]]:
    """Curves that were measured alike, parted where a direction was measured again at another level."""
    newest = {one.direction: place for place, one in enumerate(records)}
    changed = [
        (place, newest[one.direction])
        for place, one in enumerate(records)
        if place != newest[one.direction] and _apart_db(one, records[newest[one.direction]]) > APART_DB
    ]
    if not changed:
        return [records]
    last, first = max(place for place, _ in changed), min(place for _, place in changed)
    cut = max(range(min(last + 1, first), first + 1), key=lambda place: (_waited_s(records, place), place))
    return [*_at_one_level(records[:cut]), records[cut:]]


def _waited_s(records: Sequence[CurveRecord], place: int) -> float:
    """How long after the one before it a curve was kept: a change of the gain falls into the longest pause."""
    now, before = (datetime.fromisoformat(records[one].at) for one in (place, place - 1))
    return (now - before).total_seconds()


def _apart_db(one: CurveRecord, other: CurveRecord) -> float:
    try:
        curves = [response_of(record) for record in (one, other)]
        low, high = (max(BAND_HZ[0], *(curve.band[0] for curve in curves)),
                     min(BAND_HZ[1], *(curve.band[1] for curve in curves)))  # fmt: skip
        return abs(mean_level(curves[0], low, high) - mean_level(curves[1], low, high))
    except MeasureError:
        return 0.0  # no place where both are valid: their levels do not tell


def _left_out(sessions: Sequence[Sequence[CurveRecord]], best: int) -> str:
    """That curves of other sessions are not mixed in, and what differs about them."""
    taken, others = sessions[best], [session for place, session in enumerate(sessions) if place != best]
    count = sum(len(session) for session in others)
    own = _how(taken[-1])
    differ = [what for what in own if any(_how(session[-1])[what] != own[what] for session in others)]
    level = any(_how(session[-1]) == own for session in others)
    if differ and differ != ["date"]:
        differ = [what for what in differ if what != "date"]  # not asked where levels are absolute
    why = ", ".join([*differ, *(["level"] if level else [])])
    which = "of another session is" if count == 1 else "of other sessions are"
    when = taken[-1].conditions.when or taken[-1].at[:10]
    return (
        f"from {'one curve' if len(taken) == 1 else f'{len(taken)} curves'} of one session ({when}); {count} {which} "
        f"not mixed in (another {why})"
    )
