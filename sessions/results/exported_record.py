"""The record of a plan as it leaves the casebook: all that a stranger needs for `sealing.md`'s program."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..casebook import plan_chain
from ..casebook.store import Casebook
from ..plans.plan_rows import SealedPlan
from . import plan_record


def exported(casebook: Casebook, sealed: SealedPlan) -> dict[str, Any]:
    """The record of a sealed plan; once it is over, with the chain from its seal to the chain's end.

    Listeners have the names that were sealed with the plan, whatever they are called by now.
    """
    found = plan_record.record(casebook, sealed)
    names = {listener.id: listener.name for listener in sealed.plan.listeners}
    sessions = tuple(replace(own, listener_name=names.get(own.listener, own.listener_name)) for own in found.sessions)
    if found.secret is None:
        return replace(found, sessions=sessions).to_document()
    chain = plan_chain.chain_of(casebook, sealed.plan.id)
    last = chain[-1]
    end = last["hash"] if isinstance(last, dict) else last[2]
    return {**replace(found, sessions=sessions, chain_head=end).to_document(), "chain": chain}
