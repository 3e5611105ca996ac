"""A phrase from outside: the order of a plan's trials follows from it, it comes first, and it stays."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.listening import session
from sessions.plans import coin_phrase, drafting, plan_rows, randomisation, seals
from sessions.plans.plan_rows import SealedPlan, Wish
from sessions.results import verification
from sessions.results.exported_record import exported
from tests.answered_plans import PAIR, answer_all, checked_alone, run_alone
from tests.casebooks import secret_of

SECRET = bytes(range(32))
WORDS = "Zürich, 7 12 31 – said the viewer"


def hmac_sha256(key: bytes, message: bytes) -> bytes:
    """HMAC written out from its definition (RFC 2104), for keys of up to a block."""
    block = key.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(byte ^ 0x36 for byte in block) + message).digest()
    return hashlib.sha256(bytes(byte ^ 0x5C for byte in block) + inner).digest()


def awaiting(casebook: Casebook, trials: int = 6) -> SealedPlan:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=trials), "evening")
    return seals.seal(casebook, "evening", await_phrase=True)


def test_the_definition_gives_the_published_value() -> None:
    """RFC 4231, test case 2."""
    published = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac_sha256(b"Jefe", b"what do ya want for nothing?").hex() == published


def test_the_key_of_the_coins_is_the_hmac_of_the_phrase() -> None:
    expected = hmac_sha256(SECRET, b"phrase|Z\xc3\xbcrich")
    assert randomisation.coin_key(SECRET, "Zürich") == expected
    assert randomisation.coin_key(SECRET, coin_phrase.normalised("\tZu\u0308rich \n")) == expected
    assert randomisation.coin_key(SECRET, None) == SECRET


@pytest.mark.parametrize(
    ("text", "says"), [(" \t\n", "phrase is empty"), ("x" * 1001, "at most 1000"), ("a\udcff", "no readable text")]
)
def test_what_is_no_phrase_is_refused(text: str, says: str) -> None:
    with pytest.raises(PlanError, match=says):
        coin_phrase.normalised(text)


def test_no_session_before_the_phrase_and_its_keys_follow_from_it(casebook: Casebook, tmp_path: Path) -> None:
    plan = awaiting(casebook).plan
    assert (plan.document["rule"], plan.document["phrase"]) == (2, "awaited")
    with pytest.raises(PlanError, match=r'awaits its phrase: .* earwitness phrase evening "WORDS"'):
        session.begin(casebook, "evening", "Ada", "none: test")
    assert casebook.query("SELECT * FROM sessions") == []
    assert seals.give_phrase(casebook, "evening", f"  {WORDS} ").text == WORDS
    assert verification.verify(casebook).ok
    answer_all(casebook, 1.0)
    key = hmac_sha256(secret_of(casebook), f"phrase|{WORDS}".encode())
    told = casebook.query("SELECT trial, offer, keys.key FROM trials JOIN keys ON trial_id = trials.id")
    assert len(told) == 6
    for row in told:
        coin = hmac_sha256(key, f"x|{plan.listeners[0].id}|{row['trial']}|{row['offer']}".encode())
        assert json.loads(row["key"])["X"] == int.from_bytes(coin[:4], "big") % 2
    assert verification.verify(casebook).ok
    said = checked_alone(casebook, tmp_path)
    assert "6 of 6; p = 0.015625" in said
    assert f"The keys were drawn by secret and phrase '{WORDS}'" in said


def test_another_phrase_is_found(casebook: Casebook, tmp_path: Path) -> None:
    awaiting(casebook, trials=30)  # another phrase gives the same keys once in 2**30
    seals.give_phrase(casebook, "evening", WORDS)
    answer_all(casebook, 1.0)
    record = json.loads(json.dumps(exported(casebook, seals.sealed_plan(casebook, "evening"))))
    assert run_alone(record, tmp_path).returncode == 0
    row = next(link for link in record["chain"] if isinstance(link, dict) and link["table"] == "phrases")
    for place, name in ((record, "phrase"), (record, "phrase_at"), (row, "phrase"), (row, "at"), (row, "plan_id")):
        kept, place[name] = place[name], "another"
        assert "DOES NOT HOLD" in run_alone(record, tmp_path).stderr
        place[name] = None
        assert run_alone(record, tmp_path).returncode != 0
        place[name] = kept
    del record["phrase"], record["chain"]
    record["phrase_at"] = None
    assert "a session without the phrase" in run_alone(record, tmp_path).stderr
    casebook.db.conn.execute("DROP TRIGGER phrases_keep_content")
    casebook.db.conn.execute("UPDATE phrases SET phrase = 'another'")
    casebook.db.conn.commit()
    broken = verification.verify(casebook).broken
    assert any("another key than its coin" in fault for fault in broken)


def test_a_phrase_given_after_a_session_began_is_found(
    casebook: Casebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = awaiting(casebook).plan
    secret = plan_rows.secret(casebook, plan.id)
    unlocked = seals.Unlocked(plan, secret, randomisation.coin_key(secret, WORDS), None)
    with monkeypatch.context() as forged:
        forged.setattr(seals, "unlock", lambda *_: unlocked)
        answer_all(casebook, 1.0, most=3)
    with pytest.raises(PlanError, match="begun or over"):
        seals.give_phrase(casebook, "evening", WORDS)
    assert any("begun before the plan had its phrase" in one for one in verification.verify(casebook).broken)
    plan_rows.keep_phrase(casebook, plan.id, WORDS)
    answer_all(casebook, 1.0)
    assert any("begun before the plan had its phrase" in one for one in verification.verify(casebook).broken)
    done = run_alone(exported(casebook, seals.sealed_plan(casebook, "evening")), tmp_path)
    assert "a session before the phrase" in done.stderr


def test_a_phrase_is_given_once_and_only_where_it_is_awaited(casebook: Casebook) -> None:
    awaiting(casebook)
    seals.give_phrase(casebook, "evening", WORDS)
    with pytest.raises(PlanError, match="has its phrase already"):
        seals.give_phrase(casebook, "evening", "another")
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "alone")
    alone = seals.seal(casebook, "alone")
    assert alone.plan.document["rule"] == 1
    assert "phrase" not in alone.plan.document
    assert seals.unlock(casebook, alone).coin_key == secret_of(casebook, "alone")
    with pytest.raises(PlanError, match="sealed without --await-phrase"):
        seals.give_phrase(casebook, "alone", WORDS)


def test_a_plan_closed_before_its_phrase_is_checked_too(casebook: Casebook, tmp_path: Path) -> None:
    awaiting(casebook)
    seals.close(casebook, "evening", "nobody wrote")
    assert "0 answered, 6 missing; no p" in checked_alone(casebook, tmp_path)
    with pytest.raises(PlanError, match="begun or over"):
        seals.give_phrase(casebook, "evening", WORDS)


def test_how_the_key_was_drawn_is_said(casebook: Casebook) -> None:
    plan = awaiting(casebook).plan
    assert "awaits a phrase" in coin_phrase.how_drawn(plan, None)
    given = seals.give_phrase(casebook, "evening", WORDS)
    assert f'"{WORDS}"' in coin_phrase.how_drawn(plan, given)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "alone")
    assert "by this machine alone" in coin_phrase.how_drawn(seals.seal(casebook, "alone").plan, None)
