"""While a plan runs, whoever asks the casebook gets the same words, in the same time, whatever the keys are."""

from __future__ import annotations

import random
import re
import shutil
import sys
from collections import Counter
from hashlib import sha256
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from audio.engine.playback import Faults
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import open_casebook
from sessions.listening import session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.words import log
from tests.answered_plans import PAIR
from tests.command_line import earwitness
from tests.fakes import SilentPlayer, at_once

SECRETS = 4
ANSWERED = 3  # too few for a sequential plan to end, whatever they were
COMMANDS = [
    ("status",),
    ("status", "--json"),
    ("plan", "list"),
    ("plan", "show", "evening"),
    ("verdict",),
    ("verdict", "evening", "--json"),
    ("verdict", "evening", "--rehearsals"),
    ("verify",),
    ("verify", "--json"),
    ("verify", "--record", "evening"),
    ("report",),
    ("word", "list"),
    ("word", "list", "--json"),
    ("word", "search", "bright"),
    ("word", "summary"),
    ("listen", "evening", "--listener", "Ada"),
    ("listen", "evening", "--listener", "Ada", "--debug"),
    ("listen", "evening", "--listener", "Bo"),
    ("assist", "evening", "--listener", "Ada"),
]
ROOMS = ("/sessions/", "/audio/", "/stats/")


def running(matched: Path, folder: Path, wish: Wish, number: int, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of a casebook whose plan was sealed with a secret of its own, some trials answered, one disturbed."""
    shutil.copytree(matched, folder / "book")
    monkeypatch.setattr("secrets.randbits", random.Random(number).getrandbits)
    monkeypatch.setattr("secrets.token_bytes", lambda _: sha256(f"{number}".encode()).digest())  # the same in each run
    with open_casebook(folder / "book") as casebook:
        drafting.draft(casebook, wish, "evening")
        seals.seal(casebook, "evening")
        player = SilentPlayer()
        ada = catalogue.find(casebook, Listener, "Ada")
        with session.begin(casebook, "evening", "Ada", "none: test") as begun:
            runner = TrialRunner(begun, player, sleep=at_once)
            for trial in range(1, ANSWERED + 2):
                runner.offer()
                if trial == 2:
                    player.counts = Faults(underruns=1)
                    runner.poll()
                    runner.offer()
                for label in runner.method.stimuli:
                    runner.hear(label)
                    said = log.Word("bright", 3, blind=True, trial_id=runner.current.row_id, stimulus=label)
                    log.log(casebook, ada, said)  # without its track, since which passage plays is drawn too
                if trial <= ANSWERED:
                    runner.answer(next(iter(runner.method.answers)), 1)
    return folder / "book"


def without_chance(text: str, book: Path) -> str:
    """What was said, without times, hashes and identifiers, which are never alike; each keeps its length."""
    text = text.replace(str(book), "BOOK")
    text = re.sub(r'<figure class="code".*?</figure>', "the seal's picture", text, flags=re.DOTALL)
    for pattern in (
        r"(?:-[0-9A-F]{4}){4}-[0-9A-Z]\b",
        r"\d{4}-\d\d-\d\d[T ][\d:.]+Z?",
        r"\b[0-9a-f]{16,64}\b",
        r"(?<=-)[0-9a-hjkmnp-tv-z]{10}\b",
    ):
        text = re.sub(pattern, lambda found: "#" * len(found.group()), text)
    return text


class Calls:
    """How often each function of ours is called: what a command does, whatever else the machine is busy with."""

    def __init__(self) -> None:
        self.counts: Counter[tuple[str, str]] = Counter()

    def __enter__(self) -> Calls:
        sys.setprofile(self._note)
        return self

    def __exit__(self, *exc: object) -> None:
        sys.setprofile(None)

    def _note(self, frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and any(room in frame.f_code.co_filename for room in ROOMS):
            self.counts[frame.f_code.co_filename, frame.f_code.co_qualname] += 1


@pytest.mark.parametrize(
    "wish",
    [
        Wish("abx", PAIR, listeners=("Ada",), trials=8, controls=4),
        Wish("same-different", PAIR, listeners=("Ada",), trials=8),
        Wish("abx", PAIR, listeners=("Ada",), trials=40, controls=20, known=40, step_db="-1", stopping="sprt"),
        Wish("same-different", PAIR, listeners=("Ada",), trials=8, known=8, lift_hz=2000, lift_db="1"),
    ],
    ids=["abx with controls", "same-different", "sequential, all kinds", "same-different with known ones"],
)
def test_what_is_said_and_done_before_the_end_does_not_depend_on_the_keys(
    matched_folder: Path, tmp_path: Path, wish: Wish, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: dict[tuple[str, ...], list[Any]] = {command: [] for command in COMMANDS}
    keys = set()
    for number in range(SECRETS + 1):
        (tmp_path / str(number)).mkdir()
        book = running(matched_folder, tmp_path / str(number), wish, number, monkeypatch)
        with open_casebook(book) as casebook:
            order = session.begin(casebook, "evening", "Ada", "none: test")
            keys.add(tuple(str(order._order.key(trial, 1)) for trial in range(1, ANSWERED + 1)))
            order._lock.release()
        for command in COMMANDS:
            with Calls() as calls:
                done = earwitness(book, *command)
            told = [without_chance(text, book) for text in (done.stdout, done.stderr)]
            page = (book / "report.html").read_text() if command == ("report",) else ""
            said[command].append((done.returncode, told, without_chance(page, book), calls.counts))
    assert len(keys) > 2
    for command, each in said.items():
        first, *others = each[1:]  # the very first run of a command loads modules
        for other in others:
            assert other == first, command
