"""A second secret at the keyboard: typed unseen, or made and shown once; asked for again, and nothing without it."""

from __future__ import annotations

import json
import re
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path

import click.testing
import pytest

from sessions.casebook.store import Casebook, open_casebook
from sessions.commands.context import Context
from sessions.commands.main import earwitness
from sessions.errors import SessionsError
from sessions.listening import session
from sessions.pages import server
from sessions.plans import drafting, plan_rows, seals, second_hand
from sessions.plans.plan_rows import SealedPlan, Wish
from sessions.results import verification
from tests.answered_plans import PAIR, answer_all
from tests.terminal import Terminal, command

OWN = "ten green bottles 1972 under the stairs"


@pytest.fixture
def drafted(casebook: Casebook) -> Casebook:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "evening")
    return casebook


@pytest.fixture
def terminal(request: pytest.FixtureRequest) -> Iterator[Terminal]:
    opened = Terminal(f"second-{abs(hash(request.node.name))}")
    yield opened
    opened.close()


def run(book: Casebook, *arguments: str, line: str = "") -> click.testing.Result:
    """A command without a terminal, with one line of standard input."""
    given = ["--casebook", str(book.folder), *arguments]
    return click.testing.CliRunner().invoke(earwitness, given, input=line, obj=Context())


def heard_anywhere(book: Casebook, *arguments: str) -> str:
    """A command that finds whichever device it looks for, as it is typed; to open it is another thing."""
    return shlex.join([sys.executable, "-m", "tests.any_device", "--casebook", str(book.folder), *arguments])


def sealed(book: Casebook) -> SealedPlan:
    return seals.sealed_plan(book, "evening")


def test_without_a_terminal_a_line_of_standard_input_is_read(drafted: Casebook) -> None:
    short = run(drafted, "seal", "evening", "--second-hand", line="short\n")
    assert isinstance(short.exception, SessionsError)
    assert "give at least 20" in str(short.exception)
    assert drafted.query("SELECT * FROM plans") == []
    done = run(drafted, "seal", "evening", "--second-hand", "--json", line=f"{OWN}\n")
    assert json.loads(done.stdout)["rule"] == 2
    assert "from a second secret that was given when it was sealed" in done.stderr
    assert second_hand.fits(sealed(drafted).plan, second_hand.normalised(OWN))
    assert second_hand.normalised(OWN) not in done.output
    wrong = run(drafted, "plan", "close", "evening", "--why", "it rained", "--yes", line="ten green bottles\n")
    assert "not the second secret of plan 'evening', which stays sealed" in str(wrong.exception)
    nothing = run(drafted, "plan", "close", "evening", "--why", "it rained", "--yes")
    assert "which stays sealed" in str(nothing.exception)
    assert plan_rows.opening(drafted, sealed(drafted).plan.id) is None
    assert run(drafted, "plan", "close", "evening", "--why", "it rained", "--yes", line=f"{OWN}\n").exit_code == 0
    shown = run(drafted, "plan", "show", "evening")
    assert "typed in again when a session began or the plan was closed; who held it no record can show" in shown.output
    assert verification.verify(drafted).broken == []


def test_serve_opens_its_pages_without_it_where_it_is_to_be_typed_at_the_desk(
    drafted: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = seals.seal(drafted, "evening", ask_second=lambda: second_hand.chosen(OWN)).plan
    secrets = list[dict[str, str]]()
    monkeypatch.setattr(server, "serve", lambda app, *rest: secrets.append(dict(app.state.office.seconds)))
    ask = ("serve", "--no-browser", "--port", "0")
    for typed in ("\n", f"{OWN}\n"):
        assert run(drafted, *ask, line=typed).exit_code == 0
    assert secrets == [{}, {plan.id: f"{OWN}\n"}]
    assert "not the second secret" in str(run(drafted, *ask, line="ten green bottles\n").exception)


def test_an_assistants_cards_need_it(swapped: Casebook, tmp_path: Path) -> None:
    drafting.draft(swapped, Wish("abx", PAIR, listeners=("Ada",), trials=4, operator="Cleo"), "evening")
    seals.seal(swapped, "evening", ask_second=lambda: second_hand.chosen(OWN))
    asked = ("assist", "evening", "--listener", "Ada", "--cards", str(tmp_path / "cards.txt"))
    assert "not the second secret" in str(run(swapped, *asked, line="something else\n").exception)
    assert not (tmp_path / "cards.txt").exists()
    assert run(swapped, *asked, line=f"{OWN}\n").exit_code == 0
    with session.begin(swapped, "evening", "Ada", "none", lambda _: OWN) as running:
        offered = running.next_trial()
    assert offered is not None
    first = (tmp_path / "cards.txt").read_text().split("Trial 1\n")[1].splitlines()
    assert f"cables to {PAIR[offered.key['X']]}" in first[2]


def test_it_is_typed_twice_unseen(drafted: Casebook, terminal: Terminal) -> None:
    terminal.run(command(drafted.folder, "seal", "evening", "--second-hand"))
    terminal.wait(r"looks away from screen\s+and keyboard")
    terminal.wait(r"at least 20 letters or digits \(Enter: one is made\)")
    terminal.keys("ten-green-bottles-1972-under-the-stairs", "Enter")
    terminal.wait("The same again")
    terminal.keys("TEN_green_bottles_1972_under_the_stairs", "Enter")
    terminal.wait("left with 0")
    assert "green" not in terminal.history()
    assert second_hand.fits(sealed(drafted).plan, second_hand.normalised(OWN))


def test_typed_otherwise_the_second_time_nothing_is_sealed(drafted: Casebook, terminal: Terminal) -> None:
    terminal.run(command(drafted.folder, "seal", "evening", "--second-hand"))
    terminal.wait("Enter: one is made")
    terminal.keys("ten-green-bottles-1972-under-the-stairs", "Enter")
    terminal.wait("The same again")
    terminal.keys("ten-green-bottles-1972-under-the-stair", "Enter")
    assert "typed otherwise the second time" in terminal.wait("left with 2")
    assert drafted.query("SELECT * FROM plans") == []


def test_one_that_is_made_is_shown_once_and_then_nowhere(drafted: Casebook, terminal: Terminal) -> None:
    terminal.run(command(drafted.folder, "seal", "evening", "--second-hand"))
    terminal.wait("Enter: one is made")
    terminal.keys("Enter")
    shown = terminal.wait("Press a key when it is written down")
    assert "Only who holds it looks here" in shown
    made = re.search(r"^ +((?:[a-z2-7]{4} ){3}[a-z2-7]{4})$", shown, flags=re.MULTILINE)
    assert made is not None
    assert drafted.query("SELECT * FROM plans") == []
    terminal.keys("Space")
    terminal.wait("left with 0")
    assert made[1] not in terminal.history()
    assert "everybody may look again" in terminal.history()
    assert second_hand.fits(sealed(drafted).plan, second_hand.normalised(made[1]))
    assert made[1].encode() not in b"".join(one.read_bytes() for one in drafted.folder.rglob("*") if one.is_file())


def test_listening_asks_for_it_three_times_and_then_begins_nothing(drafted: Casebook, terminal: Terminal) -> None:
    seals.seal(drafted, "evening", ask_second=lambda: second_hand.chosen(OWN))
    terminal.run(heard_anywhere(drafted, "listen", "evening", "--listener", "Ada"))
    for attempt in range(3):
        terminal.wait(f"(?s)(The second secret of plan evening.*){{{attempt + 1}}}")
        terminal.keys("guessed-wrongly", "Enter")
    screen = terminal.wait("left with 2")
    assert screen.count("That is not it; once more.") == 2
    assert "guessed" not in screen
    assert drafted.query("SELECT * FROM sessions") == []


def test_listening_begins_with_it_whatever_was_typed_first(drafted: Casebook, terminal: Terminal) -> None:
    seals.seal(drafted, "evening", ask_second=lambda: second_hand.chosen(OWN))
    terminal.run(heard_anywhere(drafted, "listen", "evening", "--listener", "Ada", "--device", "no such device"))
    terminal.wait("The second secret of plan evening")
    terminal.keys("something-else", "Enter")
    terminal.wait("once more")
    terminal.keys("ten-green-bottles-1972-under-the-stairs", "Enter")
    terminal.wait("press a key to go on")
    terminal.keys("Space")
    terminal.wait("left with")  # there is no such device to open
    assert "green" not in terminal.history()
    with open_casebook(drafted.folder) as again:
        assert [row["what"] for row in again.query("SELECT what FROM session_marks ORDER BY seq")][:1] == ["begun"]
        answer_all(again, 1.0, second=OWN)
        assert verification.verify(again).broken == []
