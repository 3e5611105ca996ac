"""The rows of runs that look for a listener's limit by forced choices: what was sought and how, and each answer.

Sought is the smallest difference that is noticed, or the highest tone (`hearing_rows`). All of their SQL is here. It
decides nothing: what the answers tell is worked out from them (`measured.own_thresholds`, `measured.own_reach`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Generic, Literal, Protocol, TypeVar

from . import documents, session_rows
from .session_rows import COMPLETE
from .store import Casebook, NewRow, Row, new_row

THRESHOLD = "threshold"
TAKEN_UP = "taken up"
Kind = Literal["lift", "cut", "level"]


class Searched(Protocol):
    """What any run of forced choices says it looks for; it is kept whole, so that the run can be worked through again.

    `steps` are the sizes that can be played as the rule takes them: above 0, and easier to notice the larger they are.
    `kinds` are what the part `kind` of such a document may say, `session_kind` what its session is called on record.
    """

    kinds: ClassVar[tuple[str, ...]]
    session_kind: ClassVar[str]

    @property
    def alternatives(self) -> int:
        """How many presentations a trial has."""

    @property
    def proportion(self) -> float:
        """The share of right answers at which the limit is read."""

    @property
    def level(self) -> float:
        """Of the credible interval."""

    @property
    def width(self) -> float | None:
        """How wide the interval may be at the end, as a ratio."""

    @property
    def fewest(self) -> int:
        """The trials before which it does not end."""

    @property
    def most(self) -> int:
        """The trials after which it does."""

    @property
    def rate_hz(self) -> int:
        """Of what is played."""

    @property
    def device(self) -> str:
        """What plays it."""

    @property
    def steps(self) -> tuple[float, ...]:
        """What can be played, the hardest to notice first."""

    @property
    def loudest_dba(self) -> float | None:
        """How loud the loudest of it is at the ears; None where nobody said."""

    def in_words(self, size: int) -> str:
        """A size, by its place, in words."""

    def same_but_device(self, other: Searched) -> bool:
        """Whether another run looks for the same, whatever played it."""


S = TypeVar("S", bound=Searched)


@dataclass(frozen=True)
class Sought:
    """What a run looks for, on what sound and how; two runs with the same of all this are one, taken up.

    Attributes
    ----------
    kind
        More of a band, less of it (both as loud as before), or all of it louder.
    centre_hz, octaves
        The band; None for a level.
    sizes_db
        What can be played, above 0, from the smallest; of a band the change at its centre.
    alternatives, proportion, level, width, fewest, most
        As in `stats.adaptive_threshold.Search`.
    passage
        Its name; empty where pink noise was played.
    sha256
        Of the unchanged sound as it was played, before `gain_db`.
    by
        The measure by which a changed band is as loud as before.
    gain_db
        By how much all of it was made quieter alike, so that nothing clips.
    device
        What played it.
    level_dba
        How loud it was at the ears; None where nobody said.
    told
        Whether the listener was told after each answer if it was right.
    changes_db
        What the largest size changes in the ear, where it changes most (`audio.excitation_change`); None where it was
        not worked out.
    """

    kinds: ClassVar[tuple[str, ...]] = ("lift", "cut", "level")
    session_kind: ClassVar[str] = THRESHOLD

    kind: Kind
    centre_hz: int | None
    octaves: float | None
    sizes_db: tuple[float, ...]
    alternatives: int
    proportion: float
    level: float
    width: float | None
    fewest: int
    most: int
    passage: str
    length_ms: int
    rate_hz: int
    sha256: str
    by: str
    gain_db: float
    device: str
    level_dba: float | None = None
    told: bool = False
    changes_db: float | None = None

    @property
    def band_hz(self) -> tuple[float, float] | None:
        """Where the band begins and ends; None for a level."""
        if self.centre_hz is None or self.octaves is None:
            return None
        half = 2 ** (self.octaves / 2)
        return self.centre_hz / half, self.centre_hz * half

    @property
    def steps(self) -> tuple[float, ...]:
        """What can be played, the hardest to notice first."""
        return self.sizes_db

    @property
    def loudest_dba(self) -> float | None:
        """How loud the loudest of it is at the ears: of a level the largest size, whatever is changed where."""
        louder_db = self.sizes_db[-1] if self.kind == "level" else 0.0
        return None if self.level_dba is None else self.level_dba + louder_db

    def in_words(self, size: int) -> str:
        """A size, by its place, in words."""
        return f"{self.sizes_db[size]:g} dB"

    def same_but_device(self, other: Searched) -> bool:
        """Whether another run looks for the same, leaving out what played it, and what is worked out of the rest."""
        if not isinstance(other, Sought):
            return False
        return replace(self, device="", changes_db=None) == replace(other, device="", changes_db=None)


@dataclass(frozen=True)
class GivenAnswer:
    """One answer: to which size (its place), which presentation was changed, and which one was said to be."""

    size: int
    changed: int
    named: int

    @property
    def right(self) -> bool:
        """Whether the changed one was named."""
        return self.named == self.changed


@dataclass(frozen=True)
class KeptRun(Generic[S]):
    """A run on record, with its answers so far, the number of the trial that each was given in, and its turns.

    `taken_up` says how often it was left and taken up again.
    """

    id: str
    session_id: str
    listener_id: str
    setup_id: str | None
    at: str
    complete: bool
    sought: S
    answers: tuple[GivenAnswer, ...]
    trials: tuple[int, ...]
    taken_up: int


KeptThreshold = KeptRun[Sought]


def new_session(listener_id: str, device: str, kind: str = THRESHOLD) -> NewRow:
    """That somebody begins a run; it is of no plan, and counts for no verdict."""
    why = documents.text_of({"kind": kind})
    return session_rows.new_session(None, listener_id, listener_id, why, device)


def new_threshold(session_id: str, setup_id: str | None, sought: Searched) -> NewRow:
    """What a run looks for."""
    content = {
        "session_id": session_id,
        "setup_id": setup_id,
        "document": documents.text_of(documents.plain(sought)),
    }
    return new_row("thresholds", "threshold", content)


def new_answer(
    threshold_id: str, trial: int, given: GivenAnswer, after_ms: int, heard_ms: Sequence[int]
) -> NewRow:  # fmt: skip
    """An answer, with what the trial was: written together, so that nothing tells of it before."""
    content = {
        "threshold_id": threshold_id,
        "trial": trial,
        "size": given.size,
        "changed": given.changed,
        "named": given.named,
        "after_ms": after_ms,
        "heard": documents.text_of(list(heard_ms)),
    }
    return new_row("threshold_answers", "noticed", content)


def every(casebook: Casebook) -> list[KeptThreshold]:
    """All runs for the smallest difference, in the order they were begun."""
    return read(casebook, Sought)


def read(casebook: Casebook, sought: type[S]) -> list[KeptRun[S]]:
    """All runs that look for such a thing, in the order they were begun."""
    rows = casebook.query(
        f"""SELECT thresholds.id, thresholds.session_id, listener_id, setup_id, thresholds.at, thresholds.document,
           EXISTS (SELECT 1 FROM session_marks WHERE session_marks.session_id = thresholds.session_id AND what = ?)
           AS complete,
           (SELECT count(*) FROM session_marks WHERE session_marks.session_id = thresholds.session_id AND what = ?)
           AS taken_up
           FROM thresholds JOIN sessions ON sessions.id = thresholds.session_id
           WHERE json_extract(thresholds.document, '$.kind') IN ({", ".join("?" * len(sought.kinds))})
           ORDER BY thresholds.seq""",
        [COMPLETE, TAKEN_UP, *sought.kinds],
    )
    if not rows:
        return []
    given: dict[str, list[Row]] = {}
    for row in casebook.query("SELECT threshold_id, trial, size, changed, named FROM threshold_answers ORDER BY seq"):
        given.setdefault(row["threshold_id"], []).append(row)
    return [_kept(row, given.get(row["id"], []), sought) for row in rows]


def _kept(row: Row, given: Sequence[Row], sought: type[S]) -> KeptRun[S]:
    return KeptRun(
        row["id"],
        row["session_id"],
        row["listener_id"],
        row["setup_id"],
        row["at"],
        bool(row["complete"]),
        documents.from_text(row["document"], sought),
        tuple(GivenAnswer(one["size"], one["changed"], one["named"]) for one in given),
        tuple(one["trial"] for one in given),
        row["taken_up"],
    )
