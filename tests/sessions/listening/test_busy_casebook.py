"""Another program holds the casebook for longer than is waited for: nothing is lost, and nothing is said too early."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from audio.engine.playback import Audition, Faults
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook
from sessions.chair.kept_words import keep_word
from sessions.errors import CasebookBusy, CatalogueError
from sessions.listening import session
from sessions.listening.session import Session
from sessions.listening.trial_runner import TrialRunner
from sessions.listening.write_queue import RETRY_S
from sessions.words import log
from tests.casebooks import chain_holds, held
from tests.fakes import SilentPlayer, at_once

BUSY_TIMEOUT_MS = 20
HOLDS = ("IMMEDIATE", "EXCLUSIVE", "DEFERRED")  # a writer, a whole lock, a reader that holds up every commit


@dataclass
class Evening:
    """A session at a silent player, with a clock to wind on."""

    casebook: Casebook
    session: Session
    player: SilentPlayer
    runner: TrialRunner
    clock: list[float]

    def kept(self, table: str) -> int:
        return int(self.casebook.query(f"SELECT count(*) AS n FROM {table}")[0]["n"])

    def marks(self) -> list[str]:
        return [row["what"] for row in self.casebook.query("SELECT what FROM session_marks ORDER BY seq")]


@pytest.fixture
def evening(sealed: Casebook) -> Iterator[Evening]:
    sealed.set_busy_timeout(BUSY_TIMEOUT_MS)
    clock, player = [0.0], SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        yield Evening(
            sealed, running, player, TrialRunner(running, player, sleep=at_once, monotonic=lambda: clock[0]), clock
        )
    assert chain_holds(sealed)


@pytest.mark.parametrize("how", HOLDS)
def test_an_idle_trial_opens_no_transaction(evening: Evening, how: str) -> None:
    evening.runner.offer()
    asked: list[str] = []
    evening.casebook.db.conn.set_trace_callback(asked.append)
    with held(evening.casebook.folder, how):
        assert [evening.runner.poll() for _ in range(100)] == [None] * 100
    evening.casebook.db.conn.set_trace_callback(None)
    assert asked == []
    assert not evening.runner.waiting


@pytest.mark.parametrize("how", HOLDS)
def test_what_was_heard_while_the_casebook_was_in_use_is_written_afterwards(evening: Evening, how: str) -> None:
    evening.runner.offer()
    with held(evening.casebook.folder, how):
        for start in (0, 4800):
            evening.player.heard = [Audition(2, start, start + 4800)]
            assert evening.runner.poll() is None
        assert evening.runner.waiting
    assert evening.runner.poll() is None
    assert evening.runner.waiting  # it is not tried at every tick
    evening.clock[0] += RETRY_S
    assert evening.runner.poll() is None
    assert not evening.runner.waiting
    rows = evening.casebook.query("SELECT stimulus, from_frame, to_frame FROM auditions ORDER BY seq")
    assert [(row["stimulus"], row["from_frame"], row["to_frame"]) for row in rows] == [
        ("X", 0, 4800),
        ("X", 4800, 9600),
    ]


def test_playback_is_not_touched_while_an_audition_waits(evening: Evening) -> None:
    evening.runner.offer()
    evening.runner.hear("X")
    evening.player.heard = [Audition(2, 0, 4800)]
    with held(evening.casebook.folder):
        evening.runner.poll()
        evening.runner.hear("A")
    assert evening.player.asked == ["play 2", "play 0"]


@pytest.mark.parametrize("how", HOLDS)
def test_an_answer_is_acknowledged_only_once_it_is_on_disk(evening: Evening, how: str) -> None:
    evening.runner.offer()
    evening.runner.hear("X")
    with held(evening.casebook.folder, how):
        evening.player.heard = [Audition(2, 0, 4800)]
        evening.clock[0] = 12.5
        with pytest.raises(CasebookBusy, match="in use by another program"):
            evening.runner.answer("A", 3)
        evening.clock[0] = 99.0
        with pytest.raises(CasebookBusy):
            evening.runner.offer()
    assert evening.kept("answers") == 0
    following = evening.runner.offer()
    assert following is not None
    assert (following.trial, following.offer) == (2, 1)
    answer = evening.casebook.query("SELECT answer, sureness, after_ms FROM answers")
    assert answer == [{"answer": "A", "sureness": 3, "after_ms": 12_500}]  # when it was given, not when it was kept
    assert evening.kept("auditions") == 1


@pytest.mark.parametrize("how", HOLDS)
def test_the_last_answer_is_held_whatever_the_casebook_is_in_use_for(evening: Evening, how: str) -> None:
    for _ in range(8):
        evening.runner.offer()
        evening.runner.hear("X")
        with held(evening.casebook.folder, how), pytest.raises(CasebookBusy):
            evening.runner.answer("A", 2)
    assert evening.kept("answers") == 7
    assert evening.runner.offer() is None
    assert evening.kept("answers") == 8
    assert evening.marks() == ["begun", "complete"]
    assert evening.kept("openings") == 1
    assert evening.kept("keys") == 8


def test_the_last_answer_that_had_to_wait_completes_the_session_once(evening: Evening) -> None:
    for _ in range(7):
        evening.runner.offer()
        assert evening.runner.answer("A", 1) is None
    evening.runner.offer()
    with held(evening.casebook.folder), pytest.raises(CasebookBusy):
        evening.runner.answer("A", 1)
    assert evening.kept("openings") == 0
    assert evening.runner.offer() is None
    assert evening.kept("answers") == 8
    assert evening.kept("openings") == 1
    assert evening.marks() == ["begun", "complete"]


def test_nothing_is_read_or_worked_out_while_an_answer_is_written(evening: Evening) -> None:
    evening.runner.offer()
    asked: list[str] = []
    evening.casebook.db.conn.set_trace_callback(asked.append)
    evening.runner.answer("A", 1)
    evening.casebook.db.conn.set_trace_callback(None)
    begun = next(place for place, sql in enumerate(asked) if sql.startswith("BEGIN"))
    read = [sql for sql in asked[begun:] if sql.startswith("SELECT")]
    # the plan could have been closed or given up until now; the end of the chain, which the rows go on from
    over, end = read
    assert "FROM openings" in over
    assert "FROM given_up" in over
    assert end == "SELECT head_seq, head_hash FROM casebook"


@pytest.mark.parametrize("how", HOLDS)
def test_a_word_that_waits_needs_nothing_else_of_the_casebook(evening: Evening, how: str) -> None:
    evening.runner.offer()
    listener = catalogue.find(evening.casebook, Listener, evening.session.record.listener_id)
    with held(evening.casebook.folder, how):
        assert not keep_word(evening.runner, listener, "Boomy", 3, "X", 2500)
        with pytest.raises(CatalogueError, match="strength 9"):  # refused at once; nothing of it waits
            keep_word(evening.runner, listener, "boomy", 9, "X", 2500)
    evening.runner.write_out()
    (word,) = log.words(evening.casebook)
    assert (word.term, word.listener, word.stimulus, word.blind, word.setup) == ("Boomy", "Ada", "X", True, None)


@pytest.mark.parametrize("how", HOLDS)
def test_no_trial_is_offered_until_it_is_on_record(evening: Evening, how: str) -> None:
    with held(evening.casebook.folder, how), pytest.raises(CasebookBusy):
        evening.runner.offer()
    assert evening.player.loaded == []
    assert evening.player.asked == ["stop"]
    offered = evening.runner.offer()
    assert offered is not None
    assert (offered.trial, offered.offer) == (1, 1)
    assert evening.kept("trials") == 1


def test_a_fault_that_waits_is_on_record_before_its_trial_comes_back(evening: Evening) -> None:
    evening.runner.offer()
    evening.runner.hear("X")
    evening.player.counts = Faults(underruns=2)
    with held(evening.casebook.folder):
        said = evening.runner.poll()
        assert said is not None
        assert "2 underruns" in said
        with pytest.raises(CasebookBusy):
            evening.runner.offer()
        assert evening.player.asked[-1] == "stop"
    again = evening.runner.offer()
    assert again is not None
    assert (again.trial, again.offer) == (1, 2)
    assert evening.kept("faults") == 1


def test_marks_and_words_wait_in_their_order(evening: Evening) -> None:
    evening.runner.offer()
    with held(evening.casebook.folder):
        evening.runner.pause()
        evening.runner.pause()
        assert not evening.runner.keep(lambda: evening.session.mark("stopped", "as a word would be"))
        assert evening.marks() == ["begun"]
        with pytest.raises(CasebookBusy):
            evening.runner.write_out()
    evening.runner.write_out()
    assert evening.marks() == ["begun", "paused", "resumed", "stopped"]
    assert evening.runner.keep(lambda: evening.session.mark("taken up"))


def test_leaving_keeps_what_was_heard_for_the_last_writing(evening: Evening) -> None:
    evening.runner.offer()
    with held(evening.casebook.folder):
        evening.player.heard = [Audition(0, 0, 4800)]
        evening.runner.leave()
        assert evening.player.asked[-1] == "stop"
    evening.runner.write_out()
    assert evening.kept("auditions") == 1
