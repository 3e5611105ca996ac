"""Which curves figures of several take: drivers, a pair, places, seatings, levels; and what to say where they lack."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import log10
from shlex import quote

from ..conditions import ON_AXIS, Conditions
from ..curve_comparison import CurveComparison
from ..curve_records import DIRECTED, CurveRecord
from ..member import ROLES, SIDES
from ..most_alike import most_alike, passed_over
from ..repeats import alike, same_reading
from .figure import Labelled, Subject, told
from .needs import NotMeasured, on_axis

DRIVEN = ("drive", "level of the sweep", "dB SPL or not", "microphone's file", "smoothing")  # as `_drive` gives them
TOLD_WHOLE = ("room", "side", "coupler")


@dataclass(frozen=True)
class Group:
    """Curves that belong together by their labels, and those that were left out, each with the reason."""

    curves: Sequence[Labelled]
    left_out: dict[str, str]


@dataclass(frozen=True)
class AtLevel:
    """A response and the level at which it was taken: dB above 1 V, or full scale; `words` says it as people do."""

    level_db: float
    words: str
    record: CurveRecord


@dataclass(frozen=True)
class Sides:
    """The curves of a left and a right; `passed_over` says which were taken where there are others."""

    left: CurveRecord
    right: CurveRecord
    passed_over: tuple[str, ...] = ()


def drivers(subject: Subject, figure: str) -> Sequence[Labelled]:
    """The curve of each role on the setup's axis measured most like the newest of all, and those named beside them."""
    known = [one for one in _on_axis(subject) if one.conditions.one_of.role]
    by_role = {role: [one for one in known if one.conditions.one_of.role == role] for role in ROLES}
    found: list[Labelled] = [(role, most_alike(known[-1:], own)[1]) for role, own in by_role.items() if own]
    found += [(told(record.conditions.one_of.role or label, record), record) for label, record in subject.others]
    if not found:
        raise NotMeasured(
            f"{subject.name!r} has no curve of a driver yet: "
            f"earwitness curve add {quote(subject.name)} FILE --role tweeter"
        )
    return found


def comparison_or_axis(subject: Subject, figure: str) -> CurveComparison | CurveRecord | Sequence[Labelled]:
    """The newest curve on axis: with those named beside it, in a comparison, or alone."""
    if subject.others:
        own = on_axis(subject, figure)
        everything = [(subject.name, own), *subject.others]
        return [(told(record.conditions.one_of.role or name, record), record) for name, record in everything]
    return subject.comparison or on_axis(subject, figure)


def pair(subject: Subject, figure: str) -> Sides:
    """The left and the right curve on axis that were measured most alike, the newest of equals."""
    both = [[one for one in _whole(subject) if one.conditions.one_of.side == side] for side in SIDES]
    if not all(both):
        raise NotMeasured(f"a pair needs both sides of {subject.name!r}: curve add or sweep with --side left and right")
    left, right = most_alike(*both)
    said = (passed_over(*own) for own in zip(SIDES, (left, right), both, strict=True))
    return Sides(left, right, tuple(filter(None, said)))


def places(subject: Subject, figure: str) -> Group:
    """The newest curve of each place in the room of the newest, taken with one drive."""
    return _like_the_newest(
        [one for one in _on_axis(subject) if one.conditions.one_of.place],
        lambda one: one.conditions.one_of.place,
        lambda one: (one.conditions.room, one.conditions.one_of.side, *_drive(one)),
        "another room, side, drive, calibration or smoothing",
        ("room", "side", *DRIVEN),
        f"{subject.name!r} has curves at fewer than two places: curve add or sweep with --place 'chair, ear left' …",
    )


def seatings(subject: Subject, figure: str) -> dict[str, Group]:
    """The seatings on the coupler of the newest, by side; each reading is one, or each seating that was numbered."""
    seated = [one for one in _on_axis(subject) if one.conditions.one_of.coupler and not one.conditions.one_of.role]
    found = {}
    for side in ("", *SIDES):
        own = [one for one in seated if one.conditions.one_of.side == side]
        if own:
            group = _like_the_newest(
                own,
                lambda one: f"seating {one.conditions.one_of.seating}" if one.conditions.one_of.seating else one.id,
                lambda one: (one.conditions.one_of.coupler, *_drive(one)),
                "another coupler, drive, calibration or smoothing",
                ("coupler", *DRIVEN),
                f"{subject.name!r} has fewer than two seatings on one coupler{f', {side}' if side else ''}: curve add "
                "or sweep with --coupler NAME, seated anew each time",
            )
            found[side or "mean"] = replace(group, curves=_numbered(group.curves))
    if not found:
        raise NotMeasured(f"{subject.name!r} has no seating on a coupler yet: curve add or sweep with --coupler NAME")
    return found


def rising_levels(subject: Subject, figure: str) -> Sequence[AtLevel]:
    """The newest responses taken alike but for their level, the newest of each, from the quietest up."""
    known = [found for found in map(_level, _whole(subject)) if found is not None]
    for newest in reversed(known):
        series = [one for one in known if alike(one.record, newest.record, but_for_level=True)]
        levels = {round(one.level_db, 2): one for one in series}
        if len(levels) > 1:
            return [levels[level] for level in sorted(levels)]
    raise NotMeasured(
        f"{subject.name!r} was not swept alike at two levels or more: curve sweep with --levels -30:-18:6"
    )


def _numbered(seated: Sequence[Labelled]) -> list[Labelled]:
    """Seatings that nobody numbered, called by their order."""
    taken = {name for name, _ in seated}
    free = (name for name in (f"seating {number}" for number in count(1)) if name not in taken)
    return [(next(free) if name == one.id else name, one) for name, one in seated]


def _on_axis(subject: Subject) -> list[CurveRecord]:
    return [
        one
        for one in subject.measured.everything
        if one.kind in DIRECTED and one.direction == ON_AXIS and not one.conditions.one_of.quantity
    ]


def _whole(subject: Subject) -> list[CurveRecord]:
    return [one for one in _on_axis(subject) if one.conditions.one_of.whole]


def _drive(one: CurveRecord) -> tuple[object, ...]:
    """What must be alike for levels to be averaged."""
    own: Conditions = one.conditions
    taken = own.taken.sweep.amplitude if own.taken else None
    return own.drive_volts, taken, own.spl, own.calibration, own.smoothing


def _level(one: CurveRecord) -> AtLevel | None:
    own = one.conditions
    if own.taken is not None:
        level = 20 * log10(own.taken.sweep.amplitude)
        return AtLevel(level, f"{level:.1f} dBFS" + (f", {own.drive_volts:.3g} V" if own.drive_volts else ""), one)
    if own.spl and own.drive_volts:
        return AtLevel(20 * log10(own.drive_volts), f"{own.drive_volts:.3g} V", one)
    return None


def _what_differs(
    found: Sequence[CurveRecord], how: Callable[[CurveRecord], tuple[object, ...]], parts: Sequence[str]
) -> str:
    """What sets curves apart that would otherwise belong together, in words; empty where nothing does."""
    differ = []
    for name, values in zip(parts, zip(*map(how, found), strict=True), strict=False):
        told_apart = dict.fromkeys("not said" if value in (None, "") else str(value) for value in values)
        if len(told_apart) > 1:
            differ.append(f"{name} ({', '.join(told_apart)})" if name in TOLD_WHOLE else name)
    return f"; there are {len(found)}, but these differ: {', '.join(differ)}" if differ else ""


def _like_the_newest(
    found: Sequence[CurveRecord],
    name: Callable[[CurveRecord], str],
    how: Callable[[CurveRecord], tuple[object, ...]],
    why: str,
    parts: Sequence[str],
    lacking: str,
) -> Group:
    """The newest of each name that was taken like the newest of all; a reading counts once."""
    kept: dict[str, CurveRecord] = {}
    left_out: dict[str, str] = {}
    for one in reversed(found):
        if how(one) != how(found[-1]):
            left_out[one.id] = why
        elif any(same_reading(one, there) for there in kept.values()):
            left_out[one.id] = "the same reading as another"
        else:
            kept.setdefault(name(one), one)
    if len(kept) < 2:
        raise NotMeasured(f"{lacking}{_what_differs(found, how, parts)}")
    return Group(list(reversed(kept.items())), left_out)
