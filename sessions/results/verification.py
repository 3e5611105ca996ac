"""Checking a casebook: chain, guards, seals, keys. It changes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..casebook import hash_chain
from ..casebook.store import Casebook
from ..plans import plan_rows, randomisation, trial_keys
from ..plans.plan import Plan
from . import plan_record, verdict
from .plan_record import PlanRecord


@dataclass(frozen=True)
class Verified:
    """What a check of a casebook found: nothing, when the record holds."""

    rows: int
    plans: int
    head: str
    broken: list[str]

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.broken


def verify(
    casebook: Casebook, published_head: str | None = None, records: Mapping[str, PlanRecord] | None = None
) -> Verified:
    """Recompute every hash of the chain, every seal, and the key of every opened plan.

    Parameters
    ----------
    published_head
        A chain hash published earlier (in a report, say): the record must still contain it.
    records
        The plans' records by identifier, where the caller has them already.
    """
    rows = list(casebook.chained_rows())
    head = casebook.head()
    broken = [
        f"{found.table} {found.row_id} (link {found.seq}): {found.what}"
        for found in hash_chain.breaks(rows, head["head_seq"], head["head_hash"])
    ]
    if published_head is not None and published_head not in {row["hash"] for _, row in rows}:
        broken.append(f"the published chain hash {published_head} is not in this casebook: rows before it were changed")
    broken += [f"the guard {name} was removed; rows may have been changed" for name in casebook.missing_guards()]
    if records is None:
        records = {each.plan.id: plan_record.record(casebook, each) for each in plan_rows.every_sealed(casebook)}
    for record in records.values():
        secret = plan_rows.secret(casebook, record.plan.id)
        broken += [f"plan {record.plan.name}: {fault}" for fault in _plan_faults(casebook, record, secret)]
    return Verified(len(rows), len(records), head["head_hash"], broken)


def _plan_faults(casebook: Casebook, record: PlanRecord, secret: bytes) -> list[str]:
    found = []
    if randomisation.seal(secret, record.plan.text) != record.seal:
        found.append("the plan and its kept secret do not give the seal")
    if record.secret is not None:
        return found + verdict.key_faults(record)
    return found + _keys_before_opening(casebook, record.plan, randomisation.coin_key(secret, record.phrase))


def _keys_before_opening(casebook: Casebook, plan: Plan, secret: bytes) -> list[str]:
    """Keys of a running plan against its coins; says which trial, never what its key is."""
    return [
        f"trial {kept.trial} (offer {kept.offer}) has another key than its coin"
        for kept in plan_record.keys_before_opening(casebook, plan.id)
        if trial_keys.key(plan, secret, kept.listener, kept.trial, kept.offer) != kept.key
    ]
