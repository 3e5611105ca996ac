"""A run for a listener's threshold, or for how high they hear, on record: begun or taken up, and its answers.

It plays nothing. Every answer is on disk before the next trial comes. Which presentation is the changed one is drawn
anew for each trial from the system's own randomness, and stands nowhere before it is answered: not on disk, nor in what
a screen is given.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from secrets import randbelow
from typing import Generic

from ..casebook import session_counters, session_rows, threshold_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.session_rows import COMPLETE
from ..casebook.store import Casebook, NewRow
from ..casebook.threshold_rows import GivenAnswer, KeptRun, S
from ..errors import ListenError
from ..measured import own_thresholds
from . import session_lock
from .session_lock import SessionLock

Draw = Callable[[int], int]
"""Gives a whole number from 0 to below another one, each as probable."""


@dataclass(frozen=True, repr=False)
class ThresholdTrial:
    """A trial on offer: its number, the place of its size, and which presentation is changed (nothing shows it)."""

    trial: int
    size: int
    changed: int

    def order(self, alternatives: int) -> list[int]:
        """What each presentation plays: 0 the unchanged sound, else 1 and the place of the size."""
        return [1 + self.size if place == self.changed else 0 for place in range(alternatives)]


class ThresholdRun(Generic[S]):
    """A run on record. Made by `begin`; a context manager that unlocks it."""

    def __init__(
        self,
        casebook: Casebook,
        listener: Listener,
        kept: KeptRun[S],
        lock: SessionLock,
        draw: Draw = randbelow,
    ) -> None:
        self.casebook = casebook
        self.listener = listener
        self.kept = kept
        self.sought = kept.sought
        self._lock = lock
        self._draw = draw
        self._given = list(kept.answers)

    def __enter__(self) -> ThresholdRun[S]:
        return self

    def __exit__(self, *exc: object) -> None:
        self._lock.release()

    @property
    def answered(self) -> int:
        """How many trials are answered."""
        return len(self._given)

    @property
    def given(self) -> tuple[GivenAnswer, ...]:
        """The answers so far."""
        return tuple(self._given)

    @property
    def over(self) -> bool:
        """Whether the run is at its end."""
        return own_thresholds.next_size(self.sought, self._given) is None

    def next_trial(self) -> ThresholdTrial | None:
        """The next trial, drawn anew; None at the end of the run."""
        size = own_thresholds.next_size(self.sought, self._given)
        if size is None:
            return None
        return ThresholdTrial(self.answered + 1, size, self._draw(self.sought.alternatives))

    def answering(
        self, trial: ThresholdTrial, answer: int, after_ms: int, heard_ms: Sequence[int]
    ) -> Callable[[], None]:
        """The write of an answer; with the last one the run is complete. It may be called again if it was refused.

        Raises
        ------
        ListenError
            If there is no such presentation.
        """
        if not 0 <= answer < self.sought.alternatives:
            raise ListenError(f"a trial has {self.sought.alternatives} presentations; got number {answer + 1}")
        given = GivenAnswer(trial.size, trial.changed, answer)
        rows = [threshold_rows.new_answer(self.kept.id, trial.trial, given, after_ms, heard_ms)]
        self._given.append(given)
        if self.over:
            rows.append(session_rows.new_mark(self.kept.session_id, COMPLETE))
        return partial(self._write, rows)

    def fault(self, kind: str, count: int, detail: str) -> None:
        """Keep a playback fault."""
        self.casebook.append_many([session_rows.new_fault(self.kept.session_id, None, kind, count, detail)])

    def mark(self, what: str, note: str = "") -> None:
        """Keep a turn of the run."""
        self.casebook.append_many([session_rows.new_mark(self.kept.session_id, what, note)])

    def _write(self, rows: Sequence[NewRow]) -> None:
        self.casebook.append_many(rows)


def begin(
    casebook: Casebook,
    listener: Listener,
    setup: Setup | None,
    sought: S,
    *,
    anew: bool = False,
    draw: Draw = randbelow,
) -> ThresholdRun[S]:
    """A run: the one of just this that was stopped, or a new one (`anew`: in any case).

    Raises
    ------
    ListenError
        If the listener looks for a threshold in another process, or the run that was stopped played on another device.
    CasebookError
        If the casebook is read-only.
    """
    casebook.check_writable()
    lock = session_lock.lock(casebook.folder, f"threshold-{listener.id}", f"{listener.name} for a threshold")
    try:
        ahead = session_counters.read_ahead(casebook)
        there = None if anew else _stopped(_every(casebook, sought), listener, setup, sought)
        if there is not None:
            mark = session_rows.new_mark(there.session_id, threshold_rows.TAKEN_UP, sought.device)
            session_counters.append_turn(casebook, there.session_id, [mark], ahead)
            return ThresholdRun(casebook, listener, there, lock, draw)
        new = threshold_rows.new_session(listener.id, sought.device, sought.session_kind)
        row = threshold_rows.new_threshold(new.id, setup.id if setup else None, sought)
        session_counters.append_turn(casebook, new.id, [new, row, session_rows.new_mark(new.id, "begun")], ahead)
        [kept] = [one for one in _every(casebook, sought) if one.id == row.id]
    except BaseException:
        lock.release()
        raise
    return ThresholdRun(casebook, listener, kept, lock, draw)


def _every(casebook: Casebook, sought: S) -> list[KeptRun[S]]:
    return threshold_rows.read(casebook, type(sought))


def _stopped(every: Sequence[KeptRun[S]], listener: Listener, setup: Setup | None, sought: S) -> KeptRun[S] | None:
    """The newest run of just this that came to no end."""
    whose = (listener.id, setup.id if setup else None)
    alike = [
        one
        for one in every
        if (one.listener_id, one.setup_id) == whose and not one.complete and one.sought.same_but_device(sought)
    ]
    here = [one for one in alike if one.sought.device == sought.device]
    elsewhere = [one for one in alike if one.answers]
    if elsewhere and not here:
        last = elsewhere[-1]
        raise ListenError(
            f"the run of {last.at[:10]} was stopped after {len(last.answers)} of its answers on {last.sought.device}, "
            f"and this is {sought.device}: take it up on that one, or begin anew with --anew"
        )
    return here[-1] if here else None
