"""Whether a plan's seal, secret and keys fit together, once its record is open. Pure, and quick to load."""

from __future__ import annotations

from ..plans import randomisation, second_hand, trial_keys
from .plan_record import PlanRecord

BEFORE_PHRASE = "a session was begun before the plan had its phrase"


def key_faults(record: PlanRecord) -> list[str]:
    """What does not fit between an opened record's seal, secret and trials; empty when all of it does."""
    plan, secret = record.plan, record.coin_key
    found = []
    if randomisation.seal(bytes.fromhex(record.secret or ""), plan.text) != record.seal:
        found.append("the plan and its secret do not give the seal")
    if not second_hand.fits(plan, record.second_hand):
        found.append("the second secret that was told is not the one that the plan was sealed with")
    if record.begun_before_phrase:
        found.append(BEFORE_PHRASE)
    for session in record.sessions:
        for trial in session.trials:
            if not trial.key:
                found.append(f"trial {trial.trial} (offer {trial.offer}) of {session.listener_name} has no key")
            elif trial_keys.key(plan, secret, session.listener, trial.trial, trial.offer) != trial.key:
                found.append(
                    f"trial {trial.trial} (offer {trial.offer}) of {session.listener_name} has another key than its "
                    "coin"
                )
            place = trial_keys.passage_index(secret, session.listener, trial.trial, len(plan.passages))
            if plan.passages[place].id != trial.passage:
                found.append(f"trial {trial.trial} of {session.listener_name} played another passage than its coin")
    return found
