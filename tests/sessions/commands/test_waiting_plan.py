"""`listen` without a plan takes the one that waits; several are asked about; where none does the next step is told."""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Iterator

import click
import pytest

from sessions.casebook.store import Casebook
from sessions.commands import listen
from sessions.commands.waiting_plan import OneOfThese
from sessions.listening import players
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR, answer_all, answer_trials
from tests.command_line import earwitness
from tests.terminal import Terminal, command

NO_SOUND = ("--device", "no such device")  # ends before anything is begun


@pytest.fixture
def usual() -> Iterator[Terminal]:
    opened = Terminal(f"earwitness-waits-{os.getpid()}", width=80)
    yield opened
    opened.close()


def test_the_one_plan_that_waits_is_taken(sealed: Casebook, usual: Terminal) -> None:
    usual.run(command(sealed.folder, "listen", *NO_SOUND))
    screen = usual.wait("left with 2")
    assert "Plan 'evening', for Ada." in screen
    assert "no sound device" in screen
    assert sealed.query("SELECT * FROM sessions") == []


def test_a_session_that_is_taken_up_names_its_trial() -> None:
    assert listen.at_which(0) == "the first trial"
    assert listen.at_which(10) == "trial 11"


def test_where_several_wait_they_are_asked_about(sealed: Casebook, usual: Terminal) -> None:
    drafting.draft(sealed, Wish("abx", PAIR, listeners=("Ada", "Bo L"), trials=6), "the & morning")
    seals.seal(sealed, "the & morning")
    usual.run(command(sealed.folder, "listen", *NO_SOUND))
    asked = usual.wait("Which one")
    listed = [line.strip() for line in asked.splitlines() if ", for " in line]
    assert listed == ["1: evening, for Ada", "2: the & morning, for Ada", "3: the & morning, for Bo L"]
    usual.keys("3", "Enter")
    usual.wait("left with 2")
    waiting = OneOfThese([("evening", "Ada"), ("the & morning", "Ada"), ("the & morning", "Bo L"), ("1", "Cy")])
    typed = ("1", "evening", "Bo L", "the & morning, for Ada")
    assert [waiting(one) for one in typed] == [
        ("evening", "Ada"),
        ("evening", "Ada"),
        ("the & morning", "Bo L"),
        ("the & morning", "Ada"),
    ]
    for unclear in ("the & morning", "5", "noon"):  # which of its listeners, and none of these
        with pytest.raises(click.BadParameter):
            waiting(unclear)
    refused = earwitness(sealed.folder, "listen", "--listener", "Ada")
    assert refused.returncode == 2
    told = refused.stderr.strip().partition("name one: ")[2].split("; ")
    hint = ["earwitness", "--casebook", str(sealed.folder), "listen"]
    assert [shlex.split(one) for one in told] == [
        [*hint, "evening", "--listener", "Ada"],
        [*hint, "the & morning", "--listener", "Ada"],
    ]


def test_where_none_waits_the_next_step_is_told(casebook: Casebook) -> None:
    hint = f"earwitness --casebook {casebook.folder}"
    nothing = earwitness(casebook.folder, "listen")
    assert nothing.returncode == 2
    assert nothing.stderr == (
        f"earwitness: no sealed plan waits to be heard; next, nothing is planned yet; with a name in place of NAME: "
        f"{hint} plan abx --listener NAME\n"
    )
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "evening")
    assert earwitness(casebook.folder, "listen").stderr.strip().endswith(f"{hint} seal evening")
    seals.seal(casebook, "evening")
    other = earwitness(casebook.folder, "listen", "--listener", "Zoe").stderr
    assert "no sealed plan waits to be heard for Zoe" in other
    answer_all(casebook, 0.5)
    over = earwitness(casebook.folder, "listen", "evening").stderr
    assert "plan 'evening' does not wait for anybody to listen; next, all plans are over" in over
    assert over.strip().endswith(f"{hint} report")


def test_stopped_with_ctrl_c_it_says_how_far_it_came_and_how_to_go_on(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sessions.commands import listen

    def stopped(*_: object, **__: object) -> bool:
        raise KeyboardInterrupt

    answer_trials(sealed, 2, 1)
    monkeypatch.setattr(listen, "check_terminal", lambda: None)
    monkeypatch.setattr(players, "rates_hz", lambda *_: frozenset({48_000}))
    monkeypatch.setattr(players, "player_of", stopped)
    monkeypatch.setattr(listen, "_show_end", lambda *_, **__: None)
    done = earwitness(sealed.folder, "listen", "evening", "--listener", "Ada")
    assert done.returncode == 130
    again = f"earwitness --casebook {sealed.folder} listen evening --listener Ada"
    assert re.search(rf"stopped; 3 of \d+ trials are answered, and kept; to go on: {re.escape(again)}\n", done.stderr)
