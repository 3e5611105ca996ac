"""Plans and sessions on a real casebook: what is fixed, what is offered, what is kept, what a verdict rests on."""

from __future__ import annotations

import json

import pytest
from scipy.stats import binomtest

from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError, ListenError, PlanError
from sessions.listening import session, simulated_listener
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Wish
from sessions.results.plan_record import record
from sessions.results.verdict import Verdict, judge
from tests.casebooks import judged

PAIR = ("sallow", "bracken")


def verdict_of(casebook: Casebook, name: str = "evening") -> Verdict:
    return judged(casebook, name)


def answer_trials(casebook: Casebook, right: int, wrong: int, listener: str = "Ada", plan: str = "evening") -> None:
    """Answer so many trials rightly, then so many wrongly, by looking at the key (as a test may)."""
    with session.begin(casebook, plan, listener, "none: test") as running:
        for place in range(right + wrong):
            offered = running.next_trial()
            assert offered is not None
            is_a = offered.key["X"] == 0
            running.answer(offered, "A" if is_a == (place < right) else "B", 2, 1500)


def test_a_sealed_plan_stays_as_it_is(sealed: Casebook) -> None:
    with pytest.raises(PlanError, match="sealed already and stays"):
        seals.seal(sealed, "evening")
    with pytest.raises(PlanError, match="in this casebook already"):
        drafting.draft(sealed, Wish("abx", PAIR, listeners=("Ada",)), "evening")


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        (Wish("abx", PAIR, listeners=("Ada",), trials=0), "1 to 1000"),
        (Wish("abx", PAIR, listeners=("Ada",), trials=1001), "1 to 1000"),
        (Wish("abx", PAIR, listeners=("Ada",), alpha="0.6"), "alpha 0.6 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), alpha="0"), "alpha 0 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), effect="0.5"), "effect 0.5 is out of range"),
        (Wish("abx", PAIR), "names its listeners"),
        (Wish("abx", PAIR, listeners=("Ada", "Ada")), "named twice"),
    ],
)
def test_numbers_out_of_range_are_refused(casebook: Casebook, wish: Wish, says: str) -> None:
    with pytest.raises(PlanError, match=says):
        drafting.draft(casebook, wish)
    assert casebook.query("SELECT * FROM drafts") == []


def test_an_unknown_setup_is_named_with_the_known_ones(casebook: Casebook) -> None:
    with pytest.raises(CatalogueError, match=r"no setup called 'willow'.*bracken, sallow"):
        drafting.draft(casebook, Wish("abx", ("sallow", "willow"), listeners=("Ada",)))


def test_criterion_and_power_are_those_of_the_whole_panel(casebook: Casebook) -> None:
    made = drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada", "Bo"), trials=8))
    assert made.criterion == 12  # 12 of 16: Leventhal, JAES 34(6), 1986
    power = sum(binom(16, k) * 0.75**k * 0.25 ** (16 - k) for k in range(12, 17))
    assert float(made.document["power"]) == pytest.approx(power, abs=5e-5)


def binom(n: int, k: int) -> int:
    from math import comb

    return comb(n, k)


def test_a_plan_without_evidence_is_not_sealed_and_void_if_it_is(casebook: Casebook) -> None:
    casebook.db.conn.execute("DROP TRIGGER match_sheets_keep_rows")
    casebook.db.conn.execute("DELETE FROM match_sheets")
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "evening")
    with pytest.raises(PlanError, match="not level-matched"):
        seals.seal(casebook, "evening")
    seals.seal(casebook, "evening", anyway=True)
    seals.close(casebook, "evening", "test")
    assert verdict_of(casebook).verdict == "void"
    assert any("level-matched" in reason for reason in verdict_of(casebook).void_reasons)


def test_a_finding_must_be_accepted_with_its_reason(casebook: Casebook) -> None:
    check = json.loads(casebook.query("SELECT document FROM checks")[0]["document"])
    finding = {"kind": "onset", "setup": "bracken", "passage": "drums 1", "what": "bracken is 3 ms late."}
    finding |= {"measured": 3.0, "limit": 1.0, "unit": "ms", "source": "test", "mendable": True}
    casebook.append("checks", "check", {"document": json.dumps(check | {"ok": False, "findings": [finding]})})
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",)), "open")
    with pytest.raises(PlanError, match="an open giveaway: bracken is 3 ms late"):
        seals.seal(casebook, "open")
    accepted = (("onset", "the speakers stand at different distances"),)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), accepted=accepted), "accepted")
    sealed = seals.seal(casebook, "accepted")
    assert sealed.plan.document["giveaways"]["accepted"][0]["why"] == accepted[0][1]


def test_no_score_is_told_before_the_end(sealed: Casebook) -> None:
    answer_trials(sealed, 7, 0)
    verdict = verdict_of(sealed)
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
    found = verdict_of(sealed)
    assert (found.verdict, found.state, found.count.correct) == (verdict, "complete", right)
    reference = binomtest(right, 8, alternative="greater")
    assert found.p_value == pytest.approx(reference.pvalue, abs=1e-12)
    two_sided = binomtest(right, 8).proportion_ci(0.95, method="exact")
    assert found.count.interval is not None
    assert (found.count.interval.low, found.count.interval.high) == pytest.approx(
        (two_sided.low, two_sided.high), abs=1e-9
    )
    assert plan_rows.opening(sealed, found.plan.id) is not None


def test_a_plan_closed_early_counts_what_was_not_answered_as_wrong(sealed: Casebook) -> None:
    answer_trials(sealed, 6, 0)
    with pytest.raises(PlanError, match="needs a reason"):
        seals.close(sealed, "evening", " ")
    seals.close(sealed, "evening", "the pair had to go back")
    found = verdict_of(sealed)
    assert (found.verdict, found.state, found.answered, found.count.correct) == ("not shown", "closed early", 6, 6)
    assert found.p_value == pytest.approx(binomtest(6, 8, alternative="greater").pvalue)
    marks = sealed.query("SELECT what, note FROM session_marks ORDER BY seq")
    assert marks[-1] == {"what": "abandoned", "note": "the pair had to go back"}
    with pytest.raises(ListenError, match="is over"):
        session.begin(sealed, "evening", "Ada", "none")
    with pytest.raises(PlanError, match="over already"):
        seals.close(sealed, "evening", "again")


def test_a_preference_closed_early_gives_the_rest_to_the_other_side(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("preference", PAIR, listeners=("Ada",), trials=10), "evening")
    seals.seal(casebook, "evening")
    with session.begin(casebook, "evening", "Ada", "none") as running:
        for _ in range(8):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, next(label for label, place in offered.key.items() if place == 1), 3, 10)
    seals.close(casebook, "evening", "test")
    found = verdict_of(casebook)
    assert (found.count.correct, found.trials) == (
        2,
        10,
    )  # 8 for the second setup, 0 for the first, 2 unanswered: to the first
    assert found.p_value == pytest.approx(binomtest(8, 10).pvalue)


def test_a_preference_names_the_preferred_setup(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("preference", PAIR, listeners=("Ada",), trials=8), "evening")
    seals.seal(casebook, "evening")
    with session.begin(casebook, "evening", "Ada", "none") as running:
        while (offered := running.next_trial()) is not None:
            running.answer(offered, next(label for label, place in offered.key.items() if place == 1), 3, 10)
    found = verdict_of(casebook)
    assert (found.verdict, found.preferred, found.count.correct) == ("heard", "bracken", 0)
    assert found.p_value == pytest.approx(2 / 2**8)


def test_a_rehearsal_is_never_in_a_verdict(sealed: Casebook) -> None:
    simulated_listener.rehearse(sealed, "evening", 1.0, 1)
    assert verdict_of(sealed).state == "not begun"
    rehearsed = judged(sealed, "evening", rehearsals=True)
    assert (rehearsed.rehearsal, rehearsed.verdict, rehearsed.count.correct) == (True, "heard", 8)
    assert plan_rows.opening(sealed, rehearsed.plan.id) is None
    answer_trials(sealed, 2, 6)
    assert verdict_of(sealed).count.correct == 2
    assert len(verdict_of(sealed).outcome.listeners) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE answers SET answer = CASE answer WHEN 'A' THEN 'B' ELSE 'A' END",
        "UPDATE trials SET key = replace(key, '\"X\": 0', '\"X\": 1')",
        "UPDATE plans SET document = replace(document, '\"criterion\":7', '\"criterion\":5')",
        "UPDATE secrets SET secret = '" + "ab" * 32 + "'",
    ],
)
def test_a_verdict_on_a_changed_record_is_void(sealed: Casebook, statement: str) -> None:
    answer_trials(sealed, 8, 0)
    assert verdict_of(sealed).verdict == "heard"
    for table in ("answers", "trials", "plans"):
        sealed.db.conn.execute(f"DROP TRIGGER {table}_keep_content")
    sealed.db.conn.execute(statement)
    sealed.db.conn.commit()
    assert verdict_of(sealed).verdict == "void"


def test_a_wrong_key_is_found_even_where_every_hash_was_made_anew(sealed: Casebook) -> None:
    """The chain proves order and content; the coins prove the keys."""
    answer_trials(sealed, 8, 0)
    kept = record(sealed, seals.sealed_plan(sealed, "evening"))
    trial = kept.sessions[0].trials[2]
    trial.key["X"] = 1 - trial.key["X"]
    found = judge(kept)
    assert found.verdict == "void"
    assert any("trial 3" in reason and "another key" in reason for reason in found.void_reasons)
