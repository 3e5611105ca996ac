"""What trials tell of the words said in them: what they hid, whether they count, and, once over, the setups heard."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..casebook import session_rows
from ..casebook.store import Casebook, Row
from ..words import blindness, log
from ..words.blindness import LabelledWord, TrialSaidIn
from ..words.corrections import AFTER_THE_END, OF_NO_TRIAL, OUTSIDE, TAKEN_BACK
from . import plan_rows
from .plan import Plan


def labelled(casebook: Casebook, words: Iterable[log.LoggedWord]) -> list[LabelledWord]:
    """Words with their labels, in their order."""
    said = list(words)
    plans = [one.plan for one in plan_rows.every_sealed(casebook)] if any(word.trial for word in said) else []
    known, corrected = trials(casebook, plans), corrections(casebook)
    return [blindness.labelled(word, known, corrected) for word in said]


def corrections(casebook: Casebook) -> dict[str, str]:
    """When each correction of a word was made, in the words of `words.corrections`, by its own row's identifier.

    Those of a trial are told by the word that was said in it, however often it was corrected since.
    """
    first: dict[str, Row] = {}
    found = {}
    for row in casebook.query(
        """SELECT words.id, words.seq, corrects, term, trial_id, openings.seq AS opened FROM words
           LEFT JOIN trials ON trials.id = trial_id LEFT JOIN sessions ON sessions.id = session_id
           LEFT JOIN openings ON openings.plan_id = sessions.plan_id
           WHERE EXISTS (SELECT 1 FROM words WHERE corrects IS NOT NULL) ORDER BY words.seq"""
    ):
        said = first[row["id"]] = first.get(row["corrects"], row)
        if row["corrects"] is not None and row["term"] == "":
            found[row["id"]] = TAKEN_BACK
        elif row["corrects"] is not None:
            late = said["opened"] is not None and said["opened"] < row["seq"]
            found[row["id"]] = OF_NO_TRIAL if said["trial_id"] is None else AFTER_THE_END if late else OUTSIDE
    return found


def trials(casebook: Casebook, plans: Iterable[Plan]) -> Mapping[str, TrialSaidIn]:
    """All trials of some plans, by the identifiers of their rows.

    Which setup was heard behind a label is told once the plan is opened, of practice too; at any time what every trial
    names to the listener. Anchors and a known difference have names, and are no setups.
    """
    found = {}
    for plan in plans:
        setups = [setup.id for setup in plan.setups]
        own = list(zip(plan.places, [*setups, *[None] * (len(plan.places) - len(setups))], strict=True))
        opened = plan_rows.opening(casebook, plan.id) is not None
        always = {} if opened else dict(zip(named(plan), own, strict=False))
        for rehearsals in (False, True):
            for one in session_rows.trials(casebook, plan.id, rehearsals=rehearsals):
                key = (one.key or {}) if opened else {}
                heard = {label: own[place] for label, place in key.items()}
                found[one.id] = TrialSaidIn(
                    plan.method.named_stimuli, not rehearsals, always | heard, _apart(plan, key)
                )
    return found


def _apart(plan: Plan, key: Mapping[str, int]) -> str:
    """Which kind of trial set apart one of this key was; empty where it was none, or that may not be told."""
    if plan.is_control(key):
        return blindness.IN_A_CONTROL
    return blindness.OF_A_KNOWN_DIFFERENCE if plan.is_known(key) else ""


def named(plan: Plan) -> tuple[str, ...]:
    """The labels that stand for a plan's first setups, in their order, in each of its trials, whatever the key.

    None where some trials are set apart (controls, a known difference): there they may stand for another setup.
    """
    return plan.method.named_stimuli if plan.slots == plan.trials else ()
