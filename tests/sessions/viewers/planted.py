"""Planted viewers: codes of people who hear it, who guess, and who guess by a habit."""

from __future__ import annotations

import random
from collections.abc import Callable

from sessions.plans import answer_codes, viewers_test
from sessions.plans.answer_codes import Answered
from sessions.plans.viewers_rows import SealedTest
from sessions.plans.viewers_test import ViewersTest

TAG = 77
Guess = Callable[[random.Random, int], int]


def document(trials: int = 8, method: str = "abx", form: str = "page") -> ViewersTest:
    """A test of two passages that was drawn up by nobody."""
    return ViewersTest(
        {
            "viewers": "viewers-planted", "rule": 1, "form": form, "plan": "plan-p", "plan_name": "evening",
            "plan_seal": "", "method": method, "question": "Is X the same as A or as B?", "trials": trials,
            "orders": trials << trials, "alpha": "0.05",
            "setups": [{"setup": "setup-1", "name": "sallow"}, {"setup": "setup-2", "name": "bracken"}],
            "passages": [
                {"passage": name, "name": name, "rate_hz": 48000, "frames": 48000, "audio": {}, "files": {}}
                for name in ("strings", "drums")
            ],
        }
    )  # fmt: skip


def codes(
    sealed: SealedTest | tuple[ViewersTest, int],
    secret: bytes,
    number: int,
    *,
    share: float,
    seed: int,
    guess: Guess | None = None,
    device: int = 1,
) -> list[str]:
    """The codes of so many viewers, of whom a share hears every trial; the others guess, evenly or by a habit."""
    test, tag = (sealed.test, sealed.tag) if isinstance(sealed, SealedTest) else sealed
    rng = random.Random(seed)
    coins = [viewers_test.coin(test, secret, slot) for slot in range(1, test.trials + 1)]
    found = []
    for one in range(number):
        order = rng.randrange(test.orders) + 1
        hears = one < share * number
        answers = [
            coins[slot - 1] ^ file if hears else (guess(rng, trial) if guess else rng.getrandbits(1))
            for trial, (slot, file) in enumerate(viewers_test.slots_of(test, order))
        ]
        told = Answered(rng.getrandbits(24), False, False, False, device, order, tuple(answers))
        found.append(answer_codes.code(tag, test.trials, told))
    return found
