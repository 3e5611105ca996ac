"""A word said in a trial: how it is kept, and whether it was kept before."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from ..casebook.catalogue import Listener
from ..casebook.store import NewRow
from ..listening.session import Offered
from ..listening.trial_runner import TrialRunner
from ..words import log


@dataclass(frozen=True)
class SaidOf:
    """A word of a trial: of which label, where in the track, how strong, with which note."""

    offered: Offered
    stimulus: str
    track_ms: int
    term: str
    strength: int
    note: str = ""


def keep_word(
    runner: TrialRunner, listener: Listener, term: str, strength: int, stimulus: str, track_ms: int, note: str = ""
) -> bool:
    """Keep a word said in the trial on offer; whether it is on disk already."""
    return keep(runner, listener, SaidOf(runner.current, stimulus, track_ms, term, strength, note))


def keep(runner: TrialRunner, listener: Listener, said: SaidOf) -> bool:
    """Keep a word said in a trial, which names the label heard and no setup; whether it is on disk already.

    Blind is only what was said of something whose identity the trial hides.
    """
    return runner.keep(partial(runner.session.casebook.append_many, [_row(runner, listener, said)]))


def is_kept(runner: TrialRunner, listener: Listener, said: SaidOf) -> bool:
    """Whether the casebook has this very word: said of the same in the same trial at the same moment.

    Raises
    ------
    CatalogueError
        If it is none that could be kept.
    """
    return log.is_there(runner.session.casebook, _row(runner, listener, said))


def _row(runner: TrialRunner, listener: Listener, said: SaidOf) -> NewRow:
    word = log.Word(
        said.term,
        said.strength,
        said.track_ms,
        blind=said.stimulus not in runner.method.named_stimuli,
        note=said.note,
        track_id=said.offered.passage.track_id,
        trial_id=said.offered.row_id,
        stimulus=said.stimulus,
    )
    return log.new_word(listener, word)
