"""A panel of 100 listeners answers by the pages of a real server: how long until each answer is said to be on disk.

Two ways: all 100 in the same moment, once a trial; and each when they please. Beside it, on the same disk, the same
number of commits of bare SQLite, one after the other, each on disk before the next. In the end each answer that was
said to be kept stands in the casebook once, no other does, and `verify` finds no fault.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sqlite3
import statistics
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sessions.casebook import catalogue
from sessions.casebook.store import open_casebook
from sessions.plans.plan_rows import Wish
from tests import stopwatch

from .panel import PLAN, Acknowledged, How, names
from .runs import EARWITNESS, Row, taken

LISTENERS, TRIALS = 100, 6
GOAL_S = 0.25
SETUPS = ("sallow", "bracken")
KILLED_AFTER_S = (1.0, 2.5)
ANSWERS = """SELECT listeners.name, trial, offer, answer, sureness FROM answers JOIN trials ON trials.id = trial_id
    JOIN sessions ON sessions.id = session_id JOIN listeners ON listeners.id = listener_id
    JOIN plans ON plans.id = plan_id WHERE plans.name = ?"""
SAID = {"burst": "all in one moment", "arriving": "each when they please"}


def rows(folder: Path, times: int) -> Iterator[Row]:
    """One row for each way to answer, and one for each against bare commits."""
    shown = f"{LISTENERS} listeners, {TRIALS} answers each"
    bare_s = statistics.median(bare_commits(folder, LISTENERS) for _ in range(max(times, 5)))
    for how in ("burst", "arriving"):
        waits = sorted(one.waited_s for _ in range(times) for one in answered(folder, how))
        middle, late = waits[len(waits) // 2], waits[int(0.99 * len(waits))]
        found = f"p50 {1000 * middle:.0f}, p99 {1000 * late:.0f}, most {1000 * waits[-1]:.0f} ms"
        yield Row(f"{shown}, {SAID[how]}: until it is on disk", found, f"p99 {GOAL_S:g} s", late < GOAL_S)
        if how == "burst":
            what = f"the same p99, to {LISTENERS} bare commits one after the other ({1000 * bare_s:.0f} ms)"
            yield Row(what, f"{late / bare_s:.2f} times", "1", late < bare_s)
    kept = sum(killed(folder, after_s) for after_s in KILLED_AFTER_S)
    yield Row(
        f"{shown}, server killed {len(KILLED_AFTER_S)} times", f"{kept} acknowledged, all kept", "none lost", True
    )


def answered(folder: Path, how: How) -> list[Acknowledged]:
    """What a panel's pages were told of their answers; all of it is found in the casebook again.

    Raises
    ------
    SystemExit
        If an answer is lost, doubled or another one, or the chain does not hold.
    """
    book = _book(folder)
    with served(book) as (_, port, code):
        done = subprocess.run(_panel(port, code, how), stdout=subprocess.PIPE, text=True, check=True)
    told = [Acknowledged(**one) for one in json.loads(done.stdout)]
    check(book, told)
    return told


def killed(folder: Path, after_s: float) -> int:
    """How many answers were acknowledged by a server that is killed so long after the first; all are found again."""
    book = _book(folder)
    with served(book) as (server, port, code):
        panel = subprocess.Popen(_panel(port, code, "arriving"), stdout=subprocess.PIPE, text=True)
        _wait_for_an_answer(book)
        time.sleep(after_s)
        server.kill()
        said, _ = panel.communicate()
    told = [Acknowledged(**one) for one in json.loads(said)]
    check(book, told, more=True)
    return len(told)


def _panel(port: int, code: str, how: How) -> list[str]:
    """The command of a panel that comes in by the code."""
    return [sys.executable, "-m", "tests.benchmarks.panel", str(port), code, str(LISTENERS), str(TRIALS), how]


def _wait_for_an_answer(book: Path) -> None:
    end = time.monotonic() + 120
    while time.monotonic() < end:
        with open_casebook(book) as casebook:
            if len(casebook.query(ANSWERS, [PLAN])):
                return
        time.sleep(0.2)
    raise SystemExit("nobody answered")


def check(book: Path, told: list[Acknowledged], *, more: bool = False) -> None:
    """Nothing, if each answer that was acknowledged is in the casebook once; `more`: others may be there too."""
    with open_casebook(book) as casebook:
        found = casebook.query(ANSWERS, [PLAN])
    kept = Counter((one["name"], f"{one['trial']}-{one['offer']}", one["answer"], one["sureness"]) for one in found)
    wanted = Counter((one.listener, one.trial, one.choice, one.sureness) for one in told)
    lost, others = wanted - kept, kept - wanted
    doubled = [one for one, times in Counter(key[:2] for key in kept.elements()).items() if times > 1]
    if lost or doubled or (others and not more):
        raise SystemExit(f"lost {len(lost)}, doubled {len(doubled)}, unasked {len(others)} of {len(told)} answers")
    done = subprocess.run([*EARWITNESS, "--casebook", str(book), "verify"], capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"verify: {done.stdout}{done.stderr}")


@contextmanager
def served(book: Path) -> Iterator[tuple[subprocess.Popen[str], int, str]]:
    """The pages of a casebook in a process of their own: it, its port, and the code to join by."""
    command = [*EARWITNESS, "--casebook", str(book), "serve", PLAN]
    command += ["--lan", "--sound", "browser", "--no-browser", "--port", "0"]
    with open(book.parent / "server.txt", "w+") as said:
        server = subprocess.Popen(command, stdout=said, stderr=said, text=True)
        try:
            yield server, *_door(book.parent / "server.txt", server)
        finally:
            if server.poll() is None:
                server.send_signal(signal.SIGINT)
                server.wait(120)


def _door(said: Path, server: subprocess.Popen[str]) -> tuple[int, str]:
    end = time.monotonic() + 60
    while server.poll() is None and time.monotonic() < end:
        text = said.read_text()
        port, code = re.search(r"127\.0\.0\.1:(\d+)/desk", text), re.search(r"type the code\s+([A-Z0-9-]+)", text)
        if port and code and "Ctrl-C" in text:
            return int(port[1]), code[1]
        time.sleep(0.05)
    raise SystemExit(f"the pages did not open:\n{said.read_text()}")


def bare_commits(folder: Path, number: int) -> float:
    """Seconds that so many commits of one row as long as an answer's take, each on disk as a casebook's are."""
    file = folder / "bare.db"
    file.unlink(missing_ok=True)
    db = sqlite3.connect(file, isolation_level=None)
    db.execute("PRAGMA synchronous = EXTRA")
    db.execute("PRAGMA journal_mode = DELETE")
    db.execute("CREATE TABLE answers (id TEXT PRIMARY KEY, content TEXT) STRICT")
    begun = time.perf_counter()
    for place in range(number):
        db.execute("INSERT INTO answers VALUES (?, ?)", [f"answer-{place}", os.urandom(200).hex()])
    took_s = time.perf_counter() - begun
    db.close()
    return took_s


def _book(folder: Path) -> Path:
    """A fresh casebook with a sealed ABX plan for the panel, over sounds of 64 frames."""
    made, book = folder / "load-sealed", folder / "load-book"
    if not made.exists():
        unfinished = folder / "load-sealed.unfinished"
        shutil.rmtree(unfinished, ignore_errors=True)
        taken([*EARWITNESS, "demo", "--dir", str(unfinished)], folder)
        with open_casebook(unfinished) as casebook:
            for name in names(LISTENERS):
                catalogue.listener_named(casebook, name)
            wish = Wish("abx", SETUPS, listeners=names(LISTENERS), trials=TRIALS)
            stopwatch.sealed_plan(casebook, bytes(range(32)), wish, PLAN)
        unfinished.rename(made)
    shutil.rmtree(book, ignore_errors=True)
    shutil.copytree(made, book)
    return book
