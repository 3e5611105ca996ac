"""The counters that each session leaves in the chain: what they count, and that verify counts it anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sessions.casebook import boot, catalogue, session_counters, session_rows
from sessions.casebook.session_counters import Age
from sessions.casebook.store import Casebook, NewRow, create
from sessions.listening import session, simulated_listener
from sessions.results import verification
from tests.casebooks import chained_rows, rewritten

AFTERNOON = datetime(2026, 1, 1, 16, tzinfo=UTC)


class Clock:
    """A clock that goes a second a look, and can be set."""

    def __init__(self) -> None:
        self.now = AFTERNOON

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def book(tmp_path: Path, clock: Clock) -> Iterator[Casebook]:
    with create(tmp_path / "book", clock) as casebook:
        yield casebook


def begun(book: Casebook) -> list[NewRow]:
    """The rows with which a session of no plan begins."""
    new = session_rows.new_session("", catalogue.listener_named(book, "Ada").id, "Ada", None, "none")
    return [replace(new, content={**new.content, "plan_id": None}), session_rows.new_mark(new.id, "begun")]


def begin(book: Casebook, started: str) -> Age:
    """A session in a machine that was started so; what its counters say."""
    rows = begun(book)
    session_counters.append_turn(book, rows[0].id, rows, session_counters.read_ahead(book, started))
    return Age(**book.query("SELECT sessions, boots, clock_steps FROM counters ORDER BY seq DESC LIMIT 1")[0])


def test_sessions_boots_and_steps_of_the_clock_backward_are_counted(book: Casebook, clock: Clock) -> None:
    assert begin(book, "boot a") == Age(1, 1, 0)
    assert begin(book, "boot a") == Age(2, 1, 0)
    clock.now -= timedelta(days=365)  # the first row written then is the one dated before the row before it
    assert begin(book, "boot b") == Age(3, 2, 1)
    clock.now += timedelta(days=400)
    assert begin(book, "boot a") == Age(4, 2, 1)
    found = verification.verify(book)
    assert found.age == Age(4, 2, 1)
    assert not [fault for fault in found.broken if "counters" in fault]


def test_machines_that_only_tell_when_they_were_started_are_the_same_within_five_minutes(book: Casebook) -> None:
    assert begin(book, "2026-01-01T08:00:00+00:00") == Age(1, 1, 0)
    assert begin(book, "2026-01-01T08:05:00+00:00") == Age(2, 1, 0)
    assert begin(book, "2026-01-01T08:05:01+00:00").boots == 2
    assert begin(book, "2026-01-03T08:00:00+00:00").boots == 3


def test_what_was_written_between_the_reading_and_the_write_is_counted_too(book: Casebook) -> None:
    ahead = session_counters.read_ahead(book, "boot a")
    assert begin(book, "boot b") == Age(1, 1, 0)
    rows = begun(book)
    session_counters.append_turn(book, rows[0].id, rows, ahead)
    newest = book.query("SELECT sessions, boots FROM counters ORDER BY seq DESC")[0]
    assert newest == {"sessions": 2, "boots": 2}


def test_rehearsals_and_sessions_taken_up_leave_counters_before_their_mark(sealed: Casebook) -> None:
    simulated_listener.rehearse(sealed, "evening", 0.5, 1)
    for _ in range(2):
        with session.begin(sealed, "evening", "Ada", "none: test"):
            pass
    rows = sealed.query("SELECT sessions FROM counters ORDER BY seq")
    assert [row["sessions"] for row in rows] == [1, 2, 2]
    before = {row["seq"] - 1 for row in sealed.query("SELECT seq FROM session_marks WHERE what != 'complete'")}
    assert before == {row["seq"] for row in sealed.query("SELECT seq FROM counters")}
    assert verification.verify(sealed).ok


@pytest.mark.parametrize("change", ["sessions = sessions + 1", "boots = 7", "clock_steps = 3"])
def test_counters_that_do_not_fit_are_named_even_where_the_chain_was_recomputed(sealed: Casebook, change: str) -> None:
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    rewritten(sealed, f"UPDATE counters SET {change}")
    found = verification.verify(sealed).broken
    assert len(found) == 1
    assert "the counters of row" in found[0]
    assert change.split()[0] in found[0]


def test_a_session_taken_out_of_a_recomputed_chain_is_missed_by_the_counters_of_the_next(sealed: Casebook) -> None:
    simulated_listener.rehearse(sealed, "evening", 0.5, 1)
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    gone = "(SELECT id FROM sessions WHERE rehearsal IS NOT NULL)"
    trials = f"(SELECT id FROM trials WHERE session_id IN {gone})"
    rewritten(
        sealed,
        *(f"DELETE FROM {table} WHERE trial_id IN {trials}" for table in ("answers", "auditions")),
        *(f"DELETE FROM {table} WHERE session_id IN {gone}" for table in ("trials", "session_marks", "counters")),
        f"DELETE FROM sessions WHERE id IN {gone}",
    )
    assert [fault for fault in verification.verify(sealed).broken if "sessions 2 for 1" in fault]


def test_a_machine_that_numbers_its_starts_is_told_by_a_hash_of_the_casebooks_own(tmp_path: Path) -> None:
    numbered = tmp_path / "boot_id"
    numbered.write_text("8a1c8f3e-0000-4000-8000-000000000001\n")
    one, other = (boot.this_boot(f"casebook-{n}", numbered) for n in "ab")
    assert one == boot.this_boot("casebook-a", numbered)
    assert one != other
    assert "8a1c" not in one


def test_elsewhere_the_time_of_the_start_is_told(tmp_path: Path) -> None:
    told = datetime.fromisoformat(boot.this_boot("casebook-a", tmp_path / "none"))
    assert told < datetime.now(UTC)
    assert boot.different([told.isoformat(), (told + timedelta(minutes=4)).isoformat()]) == 1
    assert boot.different([told.isoformat(), (told + timedelta(minutes=6)).isoformat(), "3f"]) == 3


def test_rows_are_read_in_the_order_of_the_chain(sealed: Casebook) -> None:
    assert session_counters.age(chained_rows(sealed), [chained_rows(sealed)]).sessions == 0
