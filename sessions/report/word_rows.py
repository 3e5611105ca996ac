"""The words of a report, a row each: what was said, of what, where in the music, and whether it was blind.

Blind is only what was said in a trial of something whose identity the trial hid: X of an ABX, say, and not A or B,
which are named. What was logged outside of a trial as blind is told as said to be so: nobody can check it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans.plan import Plan
from ..results import plan_record, review
from ..results.plan_record import PlanRecord
from ..words import log
from ..words.log import LoggedWord


@dataclass(frozen=True)
class WordRow:
    """One word as the report shows it; `setup_id` is the catalogue's setup that it was said of, once that is known."""

    term: str
    strength: str = ""
    of: str = ""
    track: str = ""
    at: str = ""
    how: str = ""
    listener: str = ""
    note: str = ""
    setup_id: str | None = None


@dataclass(frozen=True)
class _Trials:
    """What is known of trials, by their row's identifier: their plan, and once it is over the setup of each label.

    `setups` gives its name and its identifier, `ids` the identifiers of the catalogue's setups by name.
    """

    plans: Mapping[str, Plan]
    setups: Mapping[tuple[str, str], tuple[str, str]]
    ids: Mapping[str, str]


def gather(casebook: Casebook, records: Sequence[PlanRecord]) -> list[WordRow]:
    """All words in force; those of a trial get their setup's name once its plan is over."""
    plans: dict[str, Plan] = {}
    setups: dict[tuple[str, str], tuple[str, str]] = {}
    for record in records:
        plans |= dict.fromkeys(plan_record.trial_ids(casebook, record.plan.id), record.plan)
        if record.secret is not None:
            labels = plan_record.blind_labels(casebook, record.plan.id)
            own = list(zip(record.plan.places, record.plan.sources, strict=True))
            setups |= {label: own[place] for label, place in labels.items()}
    known = _Trials(plans, setups, {one.name: one.id for one in catalogue.everything(casebook, Setup)})
    return [_by_itself(word, known) for word in log.words(casebook)]


def _by_itself(word: LoggedWord, known: _Trials) -> WordRow:
    return review.by_itself(
        lambda: _row(word, known), lambda reason: WordRow(str(word.term), note=f"cannot be shown: {reason}")
    )


def _row(word: LoggedWord, known: _Trials) -> WordRow:
    told = known.setups.get((word.trial or "", word.stimulus or ""))
    meant, setup_id = (word.setup, known.ids.get(word.setup)) if word.setup else told or (None, None)
    return WordRow(
        term=word.term,
        strength=str(word.strength),
        of=meant or ("told when the plan is over" if word.trial else "–"),
        track=word.track or "–",
        at="" if word.track_ms is None else f"{word.track_ms / 1000:.1f} s",
        how=how_blind(word, None if word.trial is None else known.plans.get(word.trial)),
        listener=word.listener,
        note=word.note,
        setup_id=setup_id,
    )


def how_blind(word: LoggedWord, plan: Plan | None) -> str:
    """Whether a word was blind, in words; `plan` is that of its trial."""
    if plan is None or word.stimulus is None:
        return "said to be blind" if word.blind else "sighted"
    return f"sighted: {word.stimulus} is named" if word.stimulus in plan.method.named_stimuli else "blind"
