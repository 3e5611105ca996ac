"""Checking a casebook: chain, guards, seals, keys. It changes nothing."""

from __future__ import annotations

import json
from dataclasses import dataclass

from ..casebook import hash_chain
from ..casebook.store import Casebook
from ..errors import CasebookError
from ..plans import randomisation, trial_keys
from . import verdict
from .plan_record import record


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


def verify(casebook: Casebook, published_head: str | None = None) -> Verified:
    """Recompute every hash of the chain, every seal, and the key of every opened plan.

    Parameters
    ----------
    published_head
        A chain hash published earlier (in a report, say): the record must still contain it.
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
    plans = [row for table, row in rows if table == "plans"]
    secrets = {row["plan_id"]: row["secret"] for row in casebook.query("SELECT * FROM secrets")}
    for row in plans:
        try:
            kept = bytes.fromhex(secrets.get(row["id"], ""))
        except ValueError:
            kept = b""
        if randomisation.seal(kept, row["document"]) != row["seal"]:
            broken.append(f"plan {row['name']}: the plan and its kept secret do not give the seal")
        opened = record(casebook, row)
        if opened["secret"] is not None:
            broken += [f"plan {row['name']}: {fault}" for fault in verdict.key_faults(opened)]
        else:
            broken += _keys_before_opening(casebook, row["id"], row["name"], kept)
    return Verified(len(rows), len(plans), head["head_hash"], broken)


def require(casebook: Casebook) -> Verified:
    """The check, or an error if anything is wrong.

    Raises
    ------
    CasebookError
        Naming the first thing that is wrong.
    """
    found = verify(casebook)
    if not found.ok:
        raise CasebookError(f"the record does not hold: {found.broken[0]} (see earwitness verify)")
    return found


def _keys_before_opening(casebook: Casebook, plan_id: str, name: str, secret: bytes) -> list[str]:
    """Keys of a running plan against its coins; says which trial, never what its key is."""
    plan = json.loads(casebook.query("SELECT document FROM plans WHERE id = ?", [plan_id])[0]["document"])
    trials = casebook.query(
        """SELECT trials.*, listener_id FROM trials JOIN sessions ON sessions.id = session_id
           WHERE plan_id = ? AND rehearsal IS NULL""",
        [plan_id],
    )
    return [
        f"plan {name}: trial {row['trial']} (offer {row['offer']}) has another key than its coin"
        for row in trials
        if trial_keys.key(plan, secret, row["listener_id"], row["trial"], row["offer"]) != json.loads(row["key"])
    ]
