"""What a plan's listeners heard of its setups freely and sighted before and between their own trials.

It changes no verdict. What somebody heard after their own last trial, or after the plan's end, could change no answer
of theirs, and is not told.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from audio import track_time

from ..casebook import free_rows, session_rows
from ..casebook.free_rows import Stretch
from ..casebook.session_rows import SessionCourse
from ..casebook.store import Casebook
from ..plans import plan_rows
from ..plans.plan import Plan


def sentences(casebook: Casebook, plan: Plan) -> list[str]:
    """What each of the plan's listeners heard; of those who have not begun, what they heard so far."""
    opened = plan_rows.opening(casebook, plan.id)
    found = []
    for listener in plan.listeners:
        session = session_rows.counting_session(casebook, plan.id, listener.id)
        course = session_rows.course(casebook, session.id) if session else SessionCourse()
        ends = [row for row in (course.end, opened.row if opened else None) if row is not None]
        heard = free_rows.stretches(casebook, listener.id, min(ends, default=None))
        found += in_words(plan, listener.name, heard, course)
    return found


def in_words(plan: Plan, name: str, heard: Sequence[Stretch], course: SessionCourse) -> list[str]:
    """The same of one listener: what they heard, in the order of the chain, and where their own trials lie in it."""
    setups = {setup.id: setup.name for setup in plan.setups}
    before, open_first, between = [], [], []
    answered = set()
    for one in heard:
        if one.setup_id not in setups:
            continue
        if course.first_trial is None or one.row < course.first_trial:
            before.append(one)
        elif not (count := bisect_left(course.answers, one.row)):
            open_first.append(one)
        else:
            between.append(one)
            answered.add(count)
    most = f"{'at most ' if plan.sequential else ''}{plan.slots} trials"
    after = [str(count) for count in sorted(answered)]
    counts = " and ".join(filter(None, [", ".join(after[:-1]), *after[-1:]]))
    listened = f"{name} listened freely and sighted to"
    parts = [
        (f"Before their own first trial {name} had heard freely and sighted", before),
        (f"With the first of {most} begun and not answered {listened}", open_first),
        (f"After {counts} of {most} {listened}", between),
    ]
    return [f"{begins}: {_each(own, setups)}." for begins, own in parts if own]


def _each(heard: Sequence[Stretch], setups: Mapping[str, str]) -> str:
    """For how long each setup was heard, in the order in which they first were, and the last day."""
    times: dict[str, int] = {}
    for one in heard:
        times[one.setup_id] = times.get(one.setup_id, 0) + one.heard_ms
    each = ", ".join(f"{setups[of]} for {track_time.for_how_long(ms / 1000)}" for of, ms in times.items())
    return f"{each} (last on {max(one.at for one in heard)[:10]})"
