"""The words of a report, a row each: what was said, of what, where in the music, and how blind it was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audio import track_time

from ..casebook.store import Casebook
from ..plans import words_in_trials
from ..results import review
from ..results.plan_record import PlanRecord
from ..words import blindness, log
from ..words.blindness import TrialSaidIn
from ..words.log import LoggedWord


@dataclass(frozen=True)
class WordRow:
    """One word as the report shows it.

    `how` is one of the labels of `words.blindness`; `setup_id` is what it was said of, once that is known; `remark`
    says that it corrects another word, and when.
    """

    term: str
    strength: str = ""
    of: str = ""
    track: str = ""
    passage: str = ""
    at: str = ""
    how: str = ""
    listener: str = ""
    note: str = ""
    setup_id: str | None = None
    remark: str = ""


def gather(casebook: Casebook, records: Sequence[PlanRecord]) -> list[WordRow]:
    """All words in force; those of a trial get their setup's name once its plan is over."""
    known = words_in_trials.trials(casebook, [record.plan for record in records])
    corrected = words_in_trials.corrections(casebook)
    return [_by_itself(word, known, corrected) for word in log.words(casebook)]


def _by_itself(word: LoggedWord, known: Mapping[str, TrialSaidIn], corrected: Mapping[str, str]) -> WordRow:
    return review.by_itself(
        lambda: _row(word, known, corrected), lambda reason: WordRow(str(word.term), note=f"cannot be shown: {reason}")
    )


def _row(word: LoggedWord, known: Mapping[str, TrialSaidIn], corrected: Mapping[str, str]) -> WordRow:
    said = blindness.labelled(word, known, corrected)
    return WordRow(
        term=word.term,
        strength=str(word.strength),
        of=said.of,
        track=word.track or "-",
        passage=word.passage or "",
        at="" if word.track_ms is None else track_time.told(word.track_ms / 1000, 3),
        how=said.label,
        listener=word.listener,
        note=word.note,
        setup_id=said.setup_id,
        remark=said.remark,
    )
