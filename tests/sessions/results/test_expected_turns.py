"""Turns taken out of a record whose chain was recomputed: `verify` names those that other rows show to be missing."""

from __future__ import annotations

import pytest

from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.results import verification
from tests.answered_plans import PAIR, answer_all
from tests.casebooks import rewritten

NEWEST_COMPLETE = "(SELECT max(seq) FROM session_marks WHERE what = 'complete')"


@pytest.fixture
def book(casebook: Casebook) -> Casebook:
    """A plan of two listeners that is over, with a session that was taken up, and one that is under way."""
    for name, listeners in (("evening", ("Ada", "Bo")), ("running", ("Ada", "Bo"))):
        drafting.draft(casebook, Wish("abx", PAIR, listeners=listeners, trials=5), name)
        seals.seal(casebook, name)
    answer_all(casebook, 1.0, "Ada", most=3)
    answer_all(casebook, 1.0, "Ada")
    answer_all(casebook, 1.0, "Bo")
    answer_all(casebook, 1.0, "Ada", plan="running")
    answer_all(casebook, 1.0, "Bo", plan="running", most=2)
    assert verification.verify(casebook).broken == []
    return casebook


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DELETE FROM counters", "a session begun, its counters are missing"),
        ("DELETE FROM counters WHERE seq = (SELECT max(seq) FROM counters)", "a session begun, its counters are miss"),
        ("DELETE FROM counters WHERE seq = (SELECT min(seq) FROM counters)", "a session begun, its counters are miss"),
        (
            "DELETE FROM counters WHERE seq = (SELECT seq - 1 FROM session_marks WHERE what = 'taken up')",
            "a session taken up, its counters are missing",
        ),
        ("DELETE FROM session_marks WHERE what = 'begun'", "has no turn in which it was begun"),
        (
            "DELETE FROM session_marks WHERE seq = (SELECT max(seq) FROM session_marks WHERE what = 'begun')",
            "the turn is missing that they were written for",
        ),
        ("DELETE FROM session_marks WHERE what = 'taken up'", "the turn is missing that they were written for"),
        (
            f"DELETE FROM session_marks WHERE seq = {NEWEST_COMPLETE}",
            "plan running: the session of Ada is complete and does not say so",
        ),
        (
            "DELETE FROM session_marks WHERE seq = (SELECT min(seq) FROM session_marks WHERE what = 'complete')",
            "plan evening: the session of Ada is complete and does not say so",
        ),
        ("DELETE FROM openings", "plan evening: all its sessions are complete, and its opening is missing"),
        ("UPDATE openings SET why = 'closed early: tired'", "it did not end as its opening says (closed early: tired)"),
        ("UPDATE openings SET why = 'all fine'", "it did not end as its opening says (all fine)"),
        (
            "DELETE FROM answers WHERE seq = (SELECT max(answers.seq) FROM answers JOIN openings "
            "WHERE answers.seq < openings.seq)",
            "plan evening: the session of Bo says that it is complete and is not",
        ),
    ],
)
def test_a_turn_that_is_gone_is_named(book: Casebook, statement: str, says: str) -> None:
    rewritten(book, statement)
    found = verification.verify(book).broken
    assert any(says in fault for fault in found), found


def test_a_plan_closed_early_does_not_say_that_it_is_whole(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=5), "evening")
    seals.seal(casebook, "evening")
    answer_all(casebook, 1.0, most=3)
    seals.close(casebook, "evening", "tired")
    assert verification.verify(casebook).broken == []
    rewritten(casebook, "UPDATE openings SET why = 'all sessions complete'")
    assert verification.verify(casebook).broken == [
        "plan evening: it did not end as its opening says (all sessions complete)"
    ]


def test_a_sequential_plan_is_complete_exactly_where_its_boundaries_stop(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=30, stopping="sprt"), "evening")
    seals.seal(casebook, "evening")
    answer_all(casebook, 1.0)
    assert casebook.query("SELECT count(*) AS n FROM answers")[0]["n"] < 30
    assert verification.verify(casebook).broken == []
    rewritten(casebook, "DELETE FROM session_marks WHERE what = 'complete'")
    found = verification.verify(casebook).broken
    assert (
        "plan evening: the session of Ada is complete and does not say so: a row is missing, or one was put in" in found
    )


def test_a_session_that_is_killed_while_it_begins_or_ends_lacks_nothing(sealed: Casebook) -> None:
    """What is written at once is there whole or not at all, so no accident looks like a row taken out."""
    session.begin(sealed, "evening", "Ada", "none: test")._lock.release()
    assert verification.verify(sealed).broken == []
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            running.answer(offered, "A", 1, 10)
            assert verification.verify(sealed).broken == []
