"""What a run of training is of: a named artefact in a passage, made larger and smaller by the answers.

It is a rehearsal, and counts nowhere. Its rows are those of `threshold_rows`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from . import documents, threshold_rows
from .store import Casebook
from .threshold_rows import KeptRun, Searched

TRAINING = "training"


@dataclass(frozen=True)
class Exercise:
    """What is trained, on which music and how.

    Attributes
    ----------
    plan
        The name of the plan that it was meant to go before, at that time.
    artefact, said
        Its key and what it is called (`audio.artefacts`).
    sizes, unit
        What can be played, from the hardest to notice.
    alternatives
        How many presentations a trial has; one of them is changed.
    start, down, turns, most
        As in `stats.up_down.UpDown`.
    passage_id, passage
        The passage that plays, and its name.
    sha256
        Of the unchanged sound as it was played, before `gain_db`.
    by
        The measure by which what is changed is as loud as before.
    gain_db
        By how much all of it was made quieter alike, so that nothing clips.
    level_dba
        How loud it was at the ears; None where nobody said.
    """

    kinds: ClassVar[tuple[str, ...]] = (TRAINING,)
    session_kind: ClassVar[str] = TRAINING

    kind: Literal["training"]
    plan: str
    artefact: str
    said: str
    sizes: tuple[float, ...]
    unit: str
    alternatives: int
    start: int
    down: int
    turns: int
    most: int
    passage_id: str
    passage: str
    rate_hz: int
    sha256: str
    by: str
    gain_db: float
    device: str
    level_dba: float | None = None

    level = 0.0  # no interval is told
    width = None
    fewest = 1

    @property
    def proportion(self) -> float:
        """The share of right answers at which the sizes settle."""
        return float(0.5 ** (1 / self.down))

    @property
    def steps(self) -> tuple[float, ...]:
        """The places of the sizes, from 1."""
        return tuple(float(place) for place in range(1, len(self.sizes) + 1))

    @property
    def loudest_dba(self) -> float | None:
        """How loud the loudest of it is at the ears: as the passage, which nothing is louder than."""
        return self.level_dba

    def in_words(self, size: int) -> str:
        """A size, by its place, in words."""
        return f"{self.sizes[size]:g} {self.unit}"

    def same_but_device(self, other: Searched) -> bool:
        """Never: each run of training is begun anew."""
        return False


KeptExercise = KeptRun[Exercise]


@dataclass(frozen=True)
class TrainedAnswer:
    """One answer of a listener's training: in which row of the chain, when, of which exercise, at which size."""

    row: int
    at: str
    run: str
    size: int
    right: bool


def every(casebook: Casebook) -> list[KeptExercise]:
    """All of these runs, in the order they were begun."""
    return threshold_rows.read(casebook, Exercise)


def answers(casebook: Casebook, listener_id: str) -> list[TrainedAnswer]:
    """All that a listener answered in training, in its order."""
    rows = casebook.query(
        """SELECT threshold_answers.seq AS row, threshold_answers.at, threshold_id AS run, size,
           threshold_answers.changed = threshold_answers.named AS right
           FROM threshold_answers JOIN thresholds ON thresholds.id = threshold_id
           JOIN sessions ON sessions.id = thresholds.session_id
           WHERE sessions.listener_id = ? AND json_extract(thresholds.document, '$.kind') = ?
           ORDER BY threshold_answers.seq""",
        [listener_id, TRAINING],
    )
    return [documents.from_plain(row, TrainedAnswer) for row in rows]
