"""A session on a real casebook: which trial comes next, what is kept, and what survives a kill."""

from __future__ import annotations

import random
import subprocess
import sys

import pytest

from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import CasebookError, ListenError, PlanError
from sessions.listening import session
from sessions.listening.session import PRACTICE, SIMULATED, Rehearsal
from sessions.plans import seals
from tests.casebooks import chain_holds

BEGIN = """
import sys
from pathlib import Path
from sessions.casebook.store import open_casebook
from sessions.errors import ListenError
from sessions.listening import session
try:
    running = session.begin(open_casebook(Path(sys.argv[1])), "evening", "Ada", "none")
except ListenError as error:
    print(error)
"""
ANSWER_ALL = """
import sys
import time
from pathlib import Path
from sessions.casebook.store import open_casebook
from sessions.listening import session
running = session.begin(open_casebook(Path(sys.argv[1])), "evening", "Ada", "none")
while (offered := running.next_trial()) is not None:
    print("offered", offered.trial, offered.offer, offered.key["X"], flush=True)
    time.sleep(0.05)  # somebody listens: long enough for whoever kills
    running.audition(offered, "X", 0, 100)
    running.answer(offered, "A", 1, 10)
    print("kept", offered.trial, flush=True)
"""


def begin_elsewhere(casebook: Casebook) -> str:
    done = subprocess.run(
        [sys.executable, "-c", BEGIN, str(casebook.folder)], capture_output=True, text=True, check=True
    )
    return done.stdout


def answer(casebook: Casebook, trials: int) -> None:
    with session.begin(casebook, "evening", "Ada", "none: test") as running:
        for _ in range(trials):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, "A", 2, 1500)


def test_trials_come_in_order_each_passage_equally_often(sealed: Casebook) -> None:
    seen = []
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            assert running.next_trial() == offered  # asking again offers the same trial
            seen.append((offered.trial, offered.passage.name))
            running.answer(offered, "A", 1, 10)
    assert [trial for trial, _ in seen] == list(range(1, 9))
    assert sorted(name for _, name in seen) == ["drums 1"] * 4 + ["strings 1"] * 4


def test_a_disturbed_trial_is_offered_again_with_a_fresh_coin_and_stays_on_record(sealed: Casebook) -> None:
    keys = set()
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        for offer in range(1, 65):
            offered = running.next_trial()
            assert offered is not None
            assert (offered.trial, offered.offer) == (1, offer)
            keys.add(offered.key["X"])
            running.fault(offered, "underruns", 1, "test")
        offered = running.next_trial()
        assert offered is not None
        running.answer(offered, "A", 1, 10)
        following = running.next_trial()
        assert following is not None
        assert (following.trial, following.offer) == (2, 1)
    assert keys == {0, 1}
    assert len(sealed.query("SELECT * FROM faults")) == 64
    assert chain_holds(sealed)


def test_only_the_listener_of_the_plan_may_begin(sealed: Casebook) -> None:
    with pytest.raises(ListenError, match="sealed for Ada, not for 'Bo'"):
        session.begin(sealed, "evening", "Bo", "none")
    with pytest.raises(PlanError, match="no sealed plan called 'morning'; there are: evening"):
        session.begin(sealed, "morning", "Ada", "none")


def test_a_plan_that_is_over_is_not_begun_again(sealed: Casebook) -> None:
    seals.close(sealed, "evening", "the pair had to go back")
    with pytest.raises(ListenError, match="is over; see earwitness verdict evening"):
        session.begin(sealed, "evening", "Ada", "none")


def test_two_processes_cannot_share_a_session(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "none"):
        assert "running in another window; finish or stop it there" in begin_elsewhere(sealed)
        with pytest.raises(ListenError, match="running in another window"):
            session.begin(sealed, "evening", "Ada", "none")
    assert begin_elsewhere(sealed) == ""


def test_the_lock_goes_with_the_process_that_held_it(sealed: Casebook) -> None:
    held = BEGIN + "\nprint('begun', flush=True)\nsys.stdin.readline()"
    with subprocess.Popen(
        [sys.executable, "-c", held, str(sealed.folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "begun\n"
        assert "running in another window" in begin_elsewhere(sealed)
        child.kill()
    assert begin_elsewhere(sealed) == ""


def test_a_session_that_cannot_be_begun_leaves_no_lock(sealed: Casebook) -> None:
    sealed.db.conn.execute("PRAGMA query_only = ON")
    with pytest.raises(CasebookError, match="is read-only; nothing was written"):
        session.begin(sealed, "evening", "Ada", "none")
    sealed.db.conn.execute("PRAGMA query_only = OFF")
    with session.begin(sealed, "evening", "Ada", "none") as running:
        assert running.next_trial() is not None


def test_a_killed_session_goes_on_at_the_same_trial_with_the_same_key(sealed: Casebook) -> None:
    offered: dict[int, set[str]] = {}
    kept: set[int] = set()
    rng = random.Random(4)
    attempt = 0
    for attempt in range(30):
        child = subprocess.Popen(
            [sys.executable, "-c", ANSWER_ALL, str(sealed.folder)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert child.stdout is not None
        lines = []
        for _ in range(rng.randint(1, 4)):
            line = child.stdout.readline()
            if not line:
                break
            lines.append(line)
        child.kill()
        rest, errors = child.communicate()
        for line in (one for one in [*lines, *rest.splitlines(keepends=True)] if one.endswith("\n")):
            parts = line.split()
            if parts[0] == "offered":
                offered.setdefault(int(parts[1]), set()).add(" ".join(parts[2:]))
            else:
                kept.add(int(parts[1]))
        answered = {
            row["trial"] for row in sealed.query("SELECT trial FROM answers JOIN trials ON trials.id = trial_id")
        }
        assert kept <= answered, "an acknowledged answer was lost"
        if len(answered) == 8:
            break
    assert len(answered) == 8, f"not done after {attempt + 1} kills: {errors}"
    assert attempt > 1
    assert all(len(seen) == 1 for seen in offered.values()), offered
    assert chain_holds(sealed)


def test_a_casebook_opened_again_goes_on_where_it_stood(sealed: Casebook) -> None:
    answer(sealed, 4)
    with open_casebook(sealed.folder) as again:
        answer(again, 4)
    marks = [row["what"] for row in sealed.query("SELECT what FROM session_marks ORDER BY seq")]
    assert marks == ["begun", "taken up", "complete"]
    trials = sealed.query("SELECT trial FROM answers JOIN trials ON trials.id = trial_id ORDER BY answers.seq")
    assert [row["trial"] for row in trials] == list(range(1, 9))


def test_what_kind_of_rehearsal_it_was_is_kept_as_it_always_was() -> None:
    practice = Rehearsal(PRACTICE, 3)
    assert practice.text == '{"kind": "practice", "seed": 3}'
    simulated = Rehearsal(SIMULATED, 1, "0.5", "by chance")
    assert simulated.text == '{"hears": "0.5", "kind": "simulated", "rule": "by chance", "seed": 1}'


def test_a_plan_closed_meanwhile_takes_no_further_answer(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        with open_casebook(sealed.folder) as elsewhere:
            seals.close(elsewhere, "evening", "the pair had to go back")
        with pytest.raises(ListenError, match="is over"):
            running.answer(offered, "A", 1, 1000)
    assert sealed.query("SELECT count(*) AS n FROM answers")[0]["n"] == 0
