"""Verdicts: the planned test, told only at the end, void where the record does not hold."""

from __future__ import annotations

import json

import pytest
from scipy.stats import binomtest

from sessions.casebook.store import Casebook
from sessions.errors import ListenError, PlanError
from sessions.listening import session, simulated_listener
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from sessions.results.plan_record import record
from sessions.results.verdict import judge
from tests.answered_plans import PAIR, answer_trials
from tests.casebooks import judged


def test_no_score_is_told_before_the_end(sealed: Casebook) -> None:
    answer_trials(sealed, 7, 0)
    verdict = judged(sealed, "evening")
    document = verdict.to_document()
    assert (verdict.verdict, verdict.state, verdict.answered) == (None, "running", 7)
    assert [document[key] for key in ("correct", "p_value", "interval", "d_prime")] == [None] * 4
    assert document["listeners"] == []
    told = record(sealed, seals.sealed_plan(sealed, "evening")).to_document()
    assert told["secret"] is None
    assert all(part["trials"] == [] for part in told["sessions"])
    assert "key" not in json.dumps(told["sessions"])


@pytest.mark.parametrize(("right", "verdict"), [(8, "heard"), (7, "heard"), (6, "not shown"), (0, "not shown")])
def test_the_verdict_is_the_exact_test(sealed: Casebook, right: int, verdict: str) -> None:
    answer_trials(sealed, right, 8 - right)
    found = judged(sealed, "evening")
    assert (found.verdict, found.state, found.count.correct) == (verdict, "complete", right)
    reference = binomtest(right, 8, alternative="greater")
    assert found.p_value == pytest.approx(reference.pvalue, abs=1e-12)
    two_sided = binomtest(right, 8).proportion_ci(0.95, method="exact")
    assert found.count.interval is not None
    assert (found.count.interval.low, found.count.interval.high) == pytest.approx(
        (two_sided.low, two_sided.high), abs=1e-9
    )
    assert plan_rows.opening(sealed, found.plan.id) is not None


def test_a_plan_closed_early_is_undecided_where_what_was_not_answered_could_decide_it(sealed: Casebook) -> None:
    answer_trials(sealed, 6, 0)
    with pytest.raises(PlanError, match="needs a reason"):
        seals.close(sealed, "evening", " ")
    seals.close(sealed, "evening", "the pair had to go back")
    found = judged(sealed, "evening")
    assert (found.verdict, found.state, found.answered, found.count.correct) == ("undecided", "closed early", 6, 6)
    assert found.p_value == pytest.approx(binomtest(6, 8, alternative="greater").pvalue)
    marks = sealed.query("SELECT what, note FROM session_marks ORDER BY seq")
    assert marks[-1] == {"what": "abandoned", "note": "the pair had to go back"}
    with pytest.raises(ListenError, match="is over"):
        session.begin(sealed, "evening", "Ada", "none")
    with pytest.raises(PlanError, match="over already"):
        seals.close(sealed, "evening", "again")


def test_a_preference_closed_early_is_told_by_the_worst_of_what_it_could_have_been(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("preference", PAIR, listeners=("Ada",), trials=10), "evening")
    seals.seal(casebook, "evening")
    with session.begin(casebook, "evening", "Ada", "none") as running:
        for _ in range(8):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, next(label for label, place in offered.key.items() if place == 1), 3, 10)
    seals.close(casebook, "evening", "test")
    found = judged(casebook, "evening")
    assert (found.verdict, found.count.correct, found.count.counted, found.trials) == ("undecided", 0, 8, 10)
    # 8 for the second setup, 0 for the first, 2 unanswered: the worst is both for the first, 8 against 2
    assert found.p_value == pytest.approx(binomtest(8, 10).pvalue)


def test_a_preference_names_the_preferred_setup(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("preference", PAIR, listeners=("Ada",), trials=8), "evening")
    seals.seal(casebook, "evening")
    with session.begin(casebook, "evening", "Ada", "none") as running:
        while (offered := running.next_trial()) is not None:
            running.answer(offered, next(label for label, place in offered.key.items() if place == 1), 3, 10)
    found = judged(casebook, "evening")
    assert (found.verdict, found.preferred, found.count.correct) == ("heard", "bracken", 0)
    assert found.p_value == pytest.approx(2 / 2**8)


def test_a_rehearsal_is_never_in_a_verdict(sealed: Casebook) -> None:
    simulated_listener.rehearse(sealed, "evening", 1.0, 1)
    assert judged(sealed, "evening").state == "not begun"
    rehearsed = judged(sealed, "evening", rehearsals=True)
    assert (rehearsed.rehearsal, rehearsed.verdict, rehearsed.count.correct) == (True, "heard", 8)
    assert plan_rows.opening(sealed, rehearsed.plan.id) is None
    answer_trials(sealed, 2, 6)
    assert judged(sealed, "evening").count.correct == 2
    assert len(judged(sealed, "evening").outcome.listeners) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE answers SET answer = CASE answer WHEN 'A' THEN 'B' ELSE 'A' END",
        "UPDATE keys SET key = replace(key, '\"X\": 0', '\"X\": 1')",
        "UPDATE plans SET document = replace(document, '\"criterion\":7', '\"criterion\":5')",
        "UPDATE openings SET secret = '" + "ab" * 32 + "'",
    ],
)
def test_a_verdict_on_a_changed_record_is_void(sealed: Casebook, statement: str) -> None:
    answer_trials(sealed, 8, 0)
    assert judged(sealed, "evening").verdict == "heard"
    for table in ("answers", "keys", "plans", "openings"):
        sealed.db.conn.execute(f"DROP TRIGGER {table}_keep_content")
    sealed.db.conn.execute(statement)
    sealed.db.conn.commit()
    found = judged(sealed, "evening")
    assert found.verdict == "void"
    said = [reason.removeprefix("plan evening: ") for reason in found.void_reasons]
    assert len(set(said)) == len(said)  # each fault is found and named once


def test_a_wrong_key_is_found_even_where_every_hash_was_made_anew(sealed: Casebook) -> None:
    """The chain proves order and content; the coins prove the keys."""
    answer_trials(sealed, 8, 0)
    kept = record(sealed, seals.sealed_plan(sealed, "evening"))
    trial = kept.sessions[0].trials[2]
    trial.key["X"] = 1 - trial.key["X"]
    found = judge(kept)
    assert found.verdict == "void"
    assert any("trial 3" in reason and "another key" in reason for reason in found.void_reasons)
