"""How long 100,000 viewers' answer codes take to be collected, against the same number of lines that are only read."""

from __future__ import annotations

import random
import statistics
import time
from pathlib import Path

from sessions.plans import answer_codes, viewers_test
from sessions.plans.answer_codes import Answered
from sessions.plans.viewers_test import ViewersTest
from sessions.results import viewers_collecting as collecting

from .runs import Row

CODES, TRIALS, TAG, SECRET = 100_000, 8, 4711, bytes(range(32))
GOAL_S = 10.0
TEST = ViewersTest(
    {
        "viewers": "viewers-benchmark", "method": "abx", "trials": TRIALS, "orders": TRIALS << TRIALS, "alpha": "0.05",
        "setups": [{"setup": "a", "name": "sallow"}, {"setup": "b", "name": "bracken"}],
        "passages": [
            {"passage": name, "name": name, "rate_hz": 48000, "frames": 1, "audio": {}, "files": {}}
            for name in ("strings", "drums")
        ],
    }
)  # fmt: skip


def rows(folder: Path, times: int) -> list[Row]:
    """Collecting and judging, in processor seconds, and the ratio to splitting the same table into its lines."""
    table = folder / "codes.csv"
    table.write_text(_table(), encoding="utf-8")
    read, whole = [], []
    for _ in range(times):
        begun = time.process_time()
        lines = len(table.read_text("utf-8").splitlines())
        read.append(time.process_time() - begun)
        begun = time.process_time()
        collected = answer_codes.collect([table.read_text("utf-8")], TEST, TAG)
        found = collecting.result(TEST, SECRET, collected)
        whole.append(time.process_time() - begun)
    assert found.crowd.listeners == CODES
    assert lines == CODES + 1
    took, ratio = statistics.median(whole), statistics.median(whole) / statistics.median(read)
    what = f"{CODES:,} answer codes collected, scored, pooled and fitted (processor; against reading the lines)"
    return [Row(what, f"{took:.1f} s, {ratio:.0f} times", f"{GOAL_S:g} s", took <= GOAL_S)]


def _table() -> str:
    rng, lines = random.Random(1), ["when,code,comment"]
    for number in range(CODES):
        order = rng.randrange(TEST.orders) + 1
        slots = viewers_test.slots_of(TEST, order)
        hears = number % 5 == 0
        answers = tuple(
            viewers_test.coin(TEST, SECRET, slot) ^ file if hears else rng.getrandbits(1) for slot, file in slots
        )
        told = Answered(rng.getrandbits(24), False, False, False, rng.randrange(5), order, answers)
        lines.append(f'2026-11-27,"{answer_codes.code(TAG, TRIALS, told)}","number {number}"')
    return "\n".join(lines)
