"""How long the report of a large review takes, and how much memory: 60 plans, 6,000 trials, the demo's 216 curves."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from functools import partial
from itertools import combinations, cycle, islice
from pathlib import Path

from sessions.casebook.store import open_casebook
from tests.answered_plans import answer_all, sealed_plan

from .runs import EARWITNESS, Row, medians, most_megabytes, taken

PLANS, TRIALS = 60, 100
GOAL_S, GOAL_MB = 10.0, 500  # our choice
SETUPS = ("sallow", "bracken", "sallow-late", "sallow-again")


def rows(folder: Path, times: int) -> Iterator[Row]:
    """One row a report: of everything, and of one unit; and one for the memory of the first."""
    book = _large_review(folder)
    for name, words in (("everything", ()), ("one unit", ("--unit", "sallow"))):
        command = [*EARWITNESS, "--casebook", str(book), "report", *words]
        found = medians({name: partial(taken, command, folder)}, times)[name]
        what = f"report of {name}: {PLANS} plans, {PLANS * TRIALS:,} trials, 216 curves"
        told = f"{found.clock_s:.1f} s (processors {found.processor_s:.1f})"
        yield Row(what, told, f"at most {GOAL_S:g} s", found.clock_s <= GOAL_S)
        if not words:
            most = most_megabytes(command, folder)
            yield Row(f"{what}: memory", f"{most:.0f} MB", f"under {GOAL_MB} MB", most < GOAL_MB)


def _large_review(folder: Path) -> Path:
    """The demo's casebook with plans between all its setups, each sealed and answered to its end."""
    book = folder / "large-review"
    if book.exists():
        return book
    made = folder / "large-review.unfinished"
    shutil.rmtree(made, ignore_errors=True)
    taken([*EARWITNESS, "demo", "--dir", str(made)], folder)
    with open_casebook(made) as casebook:
        for number, pair in enumerate(islice(cycle(combinations(SETUPS, 2)), PLANS)):
            name = f"evening {number + 1}"
            sealed_plan(casebook, name, method="abx", trials=TRIALS, setups=pair)
            answer_all(casebook, 0.3 * (number % 4), plan=name)
    made.rename(book)
    return book
