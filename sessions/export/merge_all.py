"""Casebooks together: tried on a copy first, and written only if the record holds then.

The order in which the others are named changes nothing: they are brought in by their identifiers.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from ..casebook import merging, session_rows
from ..casebook.contradictions import RECORD_FIRST
from ..casebook.merging import Merged
from ..casebook.store import Casebook, utc_now
from ..errors import MergeConflict
from ..plans import plan_rows, randomisation, seals, second_hand
from ..plans.plan_rows import SealedPlan
from ..results import verification
from ..results.verification import Verified

AskSecond = Callable[[SealedPlan], str | None]
"""Asks for the second secret of a plan that can be opened now; None where it is not given."""


@dataclass(frozen=True)
class Together:
    """What came of it: what each brought, the plans that were opened by it, those that wait for a secret, the copy.

    `secrets` says of which plans and viewers' tests secrets were fetched.
    """

    merged: tuple[Merged, ...]
    opened: tuple[str, ...]
    waiting: tuple[str, ...]
    copy: Path | None
    checked: Verified
    secrets: tuple[str, ...] = ()


def merge_all(here: Casebook, folders: Sequence[Path], ask_second: AskSecond) -> Together:
    """Bring the casebooks of these folders into this one.

    Raises
    ------
    MergeConflict
        If two contradict each other, or a record does not hold before or after; nothing is written then.
    CasebookError
        If one cannot be read, or this one cannot be written.
    """
    here.check_writable()
    with ExitStack() as held:
        others = [held.enter_context(merging.read_only(one)) for one in folders if not _is_same(one, here.folder)]
        others.sort(key=lambda one: tuple(one.head()[part] for part in ("id", "head_seq", "head_hash")))
        for one in (*others, here):
            checked = _check(one, "its own record does not hold, before anything was merged")
        home = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="earwitness-")))
        tried = Casebook(home, held.enter_context(here.snapshot()).db, utc_now)
        merging.keep_secrets(tried, here, randomisation.seal)
        brought, fetched = _bring(tried, others)
        seconds = {one.plan.id: ask_second(one) for one in _whole(tried) if second_hand.is_held(one.plan)}
        opened = _open(tried, seconds)
        _check(tried, "together their record does not hold")
        left = tuple(one.plan.name for one in _whole(tried))
        if not opened and not any(one.anything for one in brought):
            _keep_answers(here, others)
            if fetched:  # no row is new, and yet a secret is that was missing before
                _keep_secrets(here, others)
                checked = verification.verify(here)
            return Together(tuple(brought), (), left, None, checked, fetched)
        copy = here.keep_copy("merge")
        brought, fetched = _bring(here, others)
        _keep_answers(here, others)
        opened = _open(here, seconds)
        return Together(tuple(brought), tuple(opened), left, copy, verification.verify(here), fetched)


def _is_same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


def _bring(here: Casebook, others: Sequence[Casebook]) -> tuple[list[Merged], tuple[str, ...]]:
    """Their secrets first, then their rows; gives what each brought, and of what secrets were fetched."""
    fetched = _keep_secrets(here, others)
    return [merging.merge(here, one) for one in others], fetched


def _keep_secrets(here: Casebook, others: Sequence[Casebook]) -> tuple[str, ...]:
    return tuple(name for one in others for name in merging.keep_secrets(here, one, randomisation.seal))


def _keep_answers(here: Casebook, others: Sequence[Casebook]) -> None:
    for one in others:
        merging.keep_answers(here, one)


def _check(casebook: Casebook, said: str) -> Verified:
    """What the check of a record finds, if it holds; that a plan waits for its secrets to be opened is no fault."""
    checked = verification.verify(casebook)
    waiting = tuple(f"plan {one.plan.name}: all its" for one in _waiting(casebook))
    broken = [fault for fault in checked.broken if not fault.startswith(waiting)]
    if broken:
        raise MergeConflict(str(casebook.folder), (f"{said}: {broken[0]}", *broken[1:]), len(broken), (RECORD_FIRST,))
    return checked


def _waiting(casebook: Casebook) -> list[SealedPlan]:
    """Plans that a merge completed and could not open; where all sessions are of one casebook it opens them itself."""
    joined = casebook.query(
        """SELECT plan_id FROM sessions JOIN brought_in ON part = 'sessions' AND row_id = sessions.id
           WHERE rehearsal IS NULL"""
    )
    plans = {row["plan_id"] for row in joined}
    return [one for one in _whole(casebook) if one.plan.id in plans]


def _whole(casebook: Casebook) -> list[SealedPlan]:
    """Plans that are not opened though all their sessions are complete."""
    found = []
    over = {**plan_rows.openings(casebook), **plan_rows.given_up(casebook)}
    for one in plan_rows.every_sealed(casebook):
        complete = session_rows.complete_sessions(casebook, one.plan.id)
        if one.plan.id not in over and complete == len(one.plan.listeners):
            found.append(one)
    return found


def _open(casebook: Casebook, seconds: dict[str, str | None]) -> list[str]:
    """Open what can be opened now; gives the names."""
    opened = []
    for one in _whole(casebook):
        second = seconds.get(one.plan.id)
        if not plan_rows.secret(casebook, one.plan.id) or (second_hand.is_held(one.plan) and not second):
            continue
        unlocked = seals.unlock(casebook, one, second)
        seals.open_seal(casebook, unlocked, session_rows.ALL_COMPLETE, seals.untold_keys(casebook, unlocked))
        opened.append(one.plan.name)
    return opened
