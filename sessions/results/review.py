"""A review: all plans of a casebook, each parsed, verified and judged once, alone and together.

A record is append-only, so that what cannot be judged today cannot be taken out: each plan (and each picture, word and
curve of a report) is made by itself, and what fails says why in its place, and the rest stands. `by_itself` is the one
place where that is caught.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from audio.errors import AudioError
from stats.errors import StatsError

from ..casebook import origins
from ..casebook.store import Casebook
from ..errors import SessionsError
from ..plans import plan_rows
from ..plans.order_of_sealing import Course
from ..plans.plan_rows import SealedPlan
from . import plan_record, verification
from .plan_record import PlanRecord
from .together import judged_together
from .verdict import Verdict, judge, unjudged
from .verification import Verified

Made = TypeVar("Made")
Instead = TypeVar("Instead")

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class ReviewedPlan:
    """A sealed plan with its record and verdict, and those of its newest rehearsal, if there is one."""

    sealed: SealedPlan
    record: PlanRecord
    verdict: Verdict
    rehearsal_record: PlanRecord | None = None
    rehearsal: Verdict | None = None


@dataclass(frozen=True)
class Review:
    """All plans of a casebook, and what the check of the casebook found."""

    plans: tuple[ReviewedPlan, ...]
    checked: Verified


def by_itself(make: Callable[[], Made], instead: Callable[[str], Instead]) -> Made | Instead:
    """What `make` gives; where it fails, what `instead` gives for the reason.

    Our own errors are reasons in plain words; of any other its kind is told. The traceback goes to the log, which the
    command line shows with `--debug` only.
    """
    try:
        return make()
    except (SessionsError, AudioError, StatsError) as error:
        logger.error("one part was left out", exc_info=True)
        return instead(str(error))
    except Exception as error:
        logger.error("one part was left out by a fault of this program", exc_info=True)
        return instead(f"{type(error).__name__}: {error} (a fault of this program; --debug shows where)")


def review(casebook: Casebook, *, rehearsals: bool = False) -> Review:
    """Every plan of a casebook judged, and on request its newest rehearsal; void wherever the record does not hold."""
    sealed = plan_rows.every_sealed(casebook)
    found = _in_time(casebook, [_recorded(casebook, one) for one in sealed])
    checked = verification.verify(casebook, records={one.record.plan.id: one.record for one in found})
    verdicts = judged_together([_judged(one, checked) for one in found])
    plans = [ReviewedPlan(one, own.record, verdict) for one, own, verdict in zip(sealed, found, verdicts, strict=True)]
    return Review(tuple(_rehearsed(casebook, one, checked) if rehearsals else one for one in plans), checked)


def _in_time(casebook: Casebook, found: list[_Recorded]) -> list[_Recorded]:
    """The same with their courses by the clock, where other casebooks were brought in; else as the chain has them."""
    places = origins.places(casebook)
    if places is None:
        return found
    own = next((str(row["id"]) for row in casebook.query("SELECT id FROM casebook")), "")
    homes = origins.homes(casebook, "plans")
    begun: dict[str, int] = {}
    for row in casebook.query("SELECT plan_id, seq FROM sessions WHERE rehearsal IS NULL AND plan_id IS NOT NULL"):
        place = places.get(row["seq"], 0)
        begun[row["plan_id"]] = min(place, begun.get(row["plan_id"], place))

    def in_time(one: _Recorded) -> _Recorded:
        plan, course = one.record.plan.id, one.record.course
        over = None if course.over is None else places.get(course.over)
        timed = Course(places.get(course.sealed, 0), begun.get(plan), over, homes.get(plan, own))
        return replace(one, record=replace(one.record, course=timed))

    return [in_time(one) for one in found]


@dataclass(frozen=True)
class _Recorded:
    """A plan's record; an empty one with the reason where it could not be read."""

    record: PlanRecord
    reason: str = ""


def _recorded(casebook: Casebook, sealed: SealedPlan, *, rehearsals: bool = False) -> _Recorded:
    empty = PlanRecord(
        sealed.plan,
        sealed.seal,
        sealed.at,
        None,
        None,
        None,
        rehearsal=rehearsals,
        sessions=(),
        course=Course(sealed.row),
    )
    return by_itself(
        lambda: _Recorded(plan_record.record(casebook, sealed, rehearsals=rehearsals)),
        lambda reason: _Recorded(empty, reason),
    )


def _judged(one: _Recorded, checked: Verified) -> Verdict:
    record = one.record

    def without(reason: str) -> Verdict:
        return unjudged(record.plan, reason, rehearsal=record.rehearsal)

    found = without(one.reason) if one.reason else by_itself(lambda: judge(record, broken=checked.broken), without)
    return replace(found, course=record.course)


def _rehearsed(casebook: Casebook, one: ReviewedPlan, checked: Verified) -> ReviewedPlan:
    """The same with its newest rehearsal, if there is one."""
    practised = _recorded(casebook, one.sealed, rehearsals=True)
    if not practised.record.sessions and not practised.reason:
        return one
    return replace(one, rehearsal_record=practised.record, rehearsal=_judged(practised, checked))
