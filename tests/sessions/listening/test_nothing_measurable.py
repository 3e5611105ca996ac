"""Nothing that a listener can time or count tells a key: 400 trials of every method, left and resumed, with faults."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from hashlib import sha256
from typing import Any

import pytest

from sessions.casebook.store import Casebook
from sessions.plans.methods.table import METHODS
from sessions.plans.plan_rows import Wish
from tests import stopwatch
from tests.answered_plans import SETUPS
from tests.stopwatch import Measured

LISTENERS = tuple(f"listener {number}" for number in range(1, 11))
WISHES: dict[str, dict[str, Any]] = {method: {"method": method, "trials": 40} for method in METHODS} | {
    "round-robin": {"method": "round-robin", "trials": 42},
    "abx with controls": {"method": "abx", "trials": 22, "controls": 18},
    "triangle with controls": {"method": "triangle", "trials": 22, "controls": 18},
    "sequential abx": {"method": "abx", "trials": 40, "stopping": "sprt"},
}
TRIALS = 400


def measured(book: Casebook, case: str, **how: Any) -> list[str]:
    """What the stopwatch finds in 400 trials; a sequential plan has one listener and ends when it does: many of them."""
    wish = Wish(**WISHES[case], setups=SETUPS if METHODS[WISHES[case]["method"]].setups[1] > 2 else SETUPS[:2])
    clock, found, number = stopwatch.Clock(len(case)), defaultdict[str, Measured](Measured), 0
    while len(found["answered"].keys) < TRIALS:
        number += 1
        listeners = LISTENERS if wish.stopping == "fixed" else LISTENERS[:1]
        secret = sha256(f"{case} {number}".encode()).digest()
        plan = stopwatch.sealed_plan(book, secret, replace(wish, listeners=listeners), f"evening {number}")
        for kind, own in stopwatch.evening(book, plan, clock, **how).items():
            found[kind].extend(own)
    return stopwatch.telling(found)


@pytest.mark.parametrize("case", WISHES)
def test_times_and_counts_tell_no_key(book: Casebook, case: str) -> None:
    assert measured(book, case) == []
