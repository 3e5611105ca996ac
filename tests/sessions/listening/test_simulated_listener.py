"""A simulated listener: it repeats by its seed, hears as often as it says, and never spends the secret's coins."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from numpy.random import PCG64, Generator
from scipy.stats import binomtest

from sessions.casebook.store import Casebook
from sessions.errors import CasebookBusy, CasebookError, PlanError
from sessions.listening import session, session_lock, simulated_listener
from sessions.listening.trial_order import TrialOrder
from sessions.plans import drafting, seals
from sessions.plans.methods.table import METHODS
from sessions.plans.plan_rows import Wish
from tests.casebooks import chain_holds, held

PAIR = ("sallow", "bracken")


def sealed_plan(casebook: Casebook, method: str, trials: int | None = None, **more: object) -> seals.SealedPlan:
    wish = Wish(method, PAIR, listeners=("Ada",), trials=trials, **more)  # type: ignore[arg-type]
    drafting.draft(casebook, wish, "long")
    return seals.seal(casebook, "long")


def test_a_rehearsal_repeats_by_its_seed_and_does_not_use_the_secret(sealed: Casebook) -> None:
    found = []
    for seed in (7, 7, 8):
        done = simulated_listener.rehearse(sealed, "evening", 0.5, seed)
        rows = sealed.query(
            """SELECT trials.key, answer, sureness, after_ms, passage_id FROM answers
               JOIN trials ON trials.id = trial_id WHERE session_id = ? ORDER BY answers.seq""",
            [done.session_id],
        )
        found.append([tuple(row.values()) for row in rows])
    assert found[0] == found[1] != found[2]
    assert [len(rows) for rows in found] == [8] * 3
    real = []
    with session.begin(sealed, "evening", "Ada", "none") as running:
        while (offered := running.next_trial()) is not None:
            real.append(f'{{"A": 0, "B": 1, "X": {offered.key["X"]}}}')
            running.answer(offered, "A", 1, 1)
    assert all(real != [key for key, *_ in rows] for rows in found)


def test_a_rehearsal_leaves_the_record_of_a_session_that_was_heard_through(sealed: Casebook) -> None:
    done = simulated_listener.rehearse(sealed, "evening", 1.0, 1)
    assert done.answered == 8
    marks = sealed.query("SELECT what FROM session_marks WHERE session_id = ? ORDER BY seq", [done.session_id])
    assert [mark["what"] for mark in marks] == ["begun", "complete"]
    heard = sealed.query("SELECT stimulus, from_frame, to_frame FROM auditions ORDER BY seq LIMIT 3")
    assert [(row["stimulus"], row["from_frame"], row["to_frame"]) for row in heard] == [
        (label, 0, 4 * 48_000) for label in ("A", "B", "X")
    ]
    assert sealed.query("SELECT * FROM openings") == []
    assert chain_holds(sealed)


def test_a_rehearsal_is_kept_whole_or_not_at_all(sealed: Casebook) -> None:
    sealed.set_busy_timeout(20)
    with held(sealed.folder), pytest.raises(CasebookBusy):
        simulated_listener.rehearse(sealed, "evening", 1.0, 1)
    assert sealed.query("SELECT * FROM sessions") == []
    assert simulated_listener.rehearse(sealed, "evening", 1.0, 1).answered == 8


def test_nothing_is_drawn_or_locked_while_the_casebook_is_held(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_then: set[bool] = set()
    for home, name in ((TrialOrder, "key"), (TrialOrder, "passage"), (session_lock, "lock")):
        real = getattr(home, name)

        def watched(*given: object, real: Callable[..., object] = real) -> object:
            held_then.add(sealed.db.conn.in_transaction)
            return real(*given)

        monkeypatch.setattr(home, name, watched)
    asked: list[str] = []
    sealed.db.conn.set_trace_callback(asked.append)
    simulated_listener.rehearse(sealed, "evening", 0.5, 1)
    sealed.db.conn.set_trace_callback(None)
    assert held_then == {False}
    assert sum(sql.startswith("BEGIN") for sql in asked) == 1


def test_a_read_only_casebook_is_named_as_such_whether_it_was_listened_in_before_or_not(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK and real(path, mode))
    locks = sealed.folder / session_lock.LOCKS
    said = []
    for there in (False, True):
        if there:
            locks.mkdir()
        with pytest.raises(CasebookError, match="nothing was written: make it writable or copy the casebook") as error:
            simulated_listener.rehearse(sealed, "evening", 0.5, 1)
        said.append(str(error.value))
        assert list(locks.glob("*")) == []
    assert said[0] == said[1]


@pytest.mark.parametrize("hears", [0.0, 0.4, 1.0])
def test_it_hears_as_often_as_it_says(casebook: Casebook, hears: float) -> None:
    plan = sealed_plan(casebook, "abx", 400).plan
    given = simulated_listener.answers(session.rehearsal_order(plan, 11), hears, Generator(PCG64(11)))
    right = sum(one.key[one.answer] == one.key["X"] for one in given)
    expected = hears + (1 - hears) / 2
    assert binomtest(right, 400, expected).pvalue > 0.001 if hears < 1 else right == 400


@pytest.mark.parametrize("method", [name for name, one in METHODS.items() if one.setups == (2, 2)])
def test_every_answer_it_gives_can_be_given(casebook: Casebook, method: str) -> None:
    words: dict[str, object] = {"words": ("bright", "boomy", "thin")} if METHODS[method].asks_words else {}
    plan = sealed_plan(casebook, method, **words).plan
    for hears in (0.0, 1.0):
        for one in simulated_listener.answers(session.rehearsal_order(plan, 1), hears, Generator(PCG64(1))):
            plan.method.check_answer(one.answer)


def test_it_stops_where_a_sequential_plan_stops(casebook: Casebook) -> None:
    plan = sealed_plan(casebook, "abx", 60, stopping="sprt").plan
    given = simulated_listener.answers(session.rehearsal_order(plan, 1), 1.0, Generator(PCG64(1)))
    assert len(given) < 60
    pairs = [(one.key, one.answer) for one in given]
    assert session.decision(plan, pairs) is not None
    assert session.decision(plan, pairs[:-1]) is None


@pytest.mark.parametrize(
    ("hears", "seed", "says"), [(1.1, 1, "--hears 1.1"), (-0.1, 1, "--hears"), (0.5, -1, "--seed")]
)
def test_numbers_out_of_range_are_refused(sealed: Casebook, hears: float, seed: int, says: str) -> None:
    with pytest.raises(PlanError, match=says):
        simulated_listener.rehearse(sealed, "evening", hears, seed)
