"""Seals: what is fixed stays, and what could not count is not fixed unawares."""

from __future__ import annotations

import json

import pytest

from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR
from tests.casebooks import judged


def test_a_sealed_plan_stays_as_it_is(sealed: Casebook) -> None:
    with pytest.raises(PlanError, match="sealed already and stays"):
        seals.seal(sealed, "evening")
    with pytest.raises(PlanError, match="in this casebook already"):
        drafting.draft(sealed, Wish("abx", PAIR, listeners=("Ada",)), "evening")


def test_a_plan_without_evidence_is_not_sealed_and_void_if_it_is(casebook: Casebook) -> None:
    casebook.db.conn.execute("DROP TRIGGER match_sheets_keep_rows")
    casebook.db.conn.execute("DELETE FROM match_sheets")
    casebook.db.conn.commit()
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "evening")
    with pytest.raises(PlanError, match="not level-matched"):
        seals.seal(casebook, "evening")
    seals.seal(casebook, "evening", anyway=True)
    seals.close(casebook, "evening", "test")
    assert judged(casebook, "evening").verdict == "void"
    assert any("level-matched" in reason for reason in judged(casebook, "evening").void_reasons)


def test_a_finding_must_be_accepted_with_its_reason(casebook: Casebook) -> None:
    check = json.loads(casebook.query("SELECT document FROM checks")[0]["document"])
    finding = {"kind": "onset", "setup": "bracken", "passage": "drums 1", "what": "bracken is 3 ms late."}
    finding |= {"measured": 3.0, "limit": 1.0, "unit": "ms", "source": "test", "mendable": True}
    casebook.append("checks", "check", {"document": json.dumps(check | {"ok": False, "findings": [finding]})})
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",)), "open")
    with pytest.raises(PlanError, match="an open giveaway in drums 1: bracken is 3 ms late"):
        seals.seal(casebook, "open")
    accepted = (("onset", "the speakers stand at different distances"),)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), accepted=accepted), "accepted")
    sealed = seals.seal(casebook, "accepted")
    assert sealed.plan.document["giveaways"]["accepted"][0]["why"] == accepted[0][1]
