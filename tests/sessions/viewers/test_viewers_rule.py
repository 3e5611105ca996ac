"""The keys of a viewers' test: every key is there for every viewer, and anyone works them out from the secret."""

from __future__ import annotations

import hashlib
import hmac
from collections import Counter

import pytest

from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.plans import drafting, seals, viewers_test
from sessions.plans.plan_rows import Wish
from sessions.viewers import making
from tests.answered_plans import PAIR
from tests.sessions.viewers.conftest import seal_plan

from . import planted

SECRET = bytes(range(32))


def test_the_orders_hold_every_key_equally_often_whatever_the_coins() -> None:
    """So that a viewer with any habit of guessing is right in each trial with one half, and independently."""
    test = planted.document(4)
    keys = Counter(
        tuple(viewers_test.coin(test, SECRET, slot) ^ file for slot, file in viewers_test.slots_of(test, order))
        for order in range(1, test.orders + 1)
    )
    assert set(keys.values()) == {4}  # begun at each of four slots
    assert len(keys) == 2**4


def test_an_orders_key_follows_from_the_secret_by_a_few_lines_of_the_standard_library() -> None:
    test = planted.document(6)

    def key(order: int) -> list[int]:
        turn, bits = divmod(order - 1, 2**6)
        found = []
        for trial in range(1, 7):
            slot = (turn + trial - 1) % 6 + 1
            digest = hmac.new(SECRET, f"x|viewers-planted|{slot}|1".encode(), hashlib.sha256).digest()
            found.append(int.from_bytes(digest[:4], "big") % 2 ^ (bits >> (slot - 1)) % 2)
        return found

    for order in (1, 2, 63, 64, 65, 200, test.orders):
        ours = [viewers_test.coin(test, SECRET, slot) ^ file for slot, file in viewers_test.slots_of(test, order)]
        assert ours == key(order)


def test_passages_are_spread_evenly_and_coins_are_fair() -> None:
    test, coins = planted.document(8), Counter[int]()
    for number in range(300):
        secret = hashlib.sha256(b"%d" % number).digest()
        passages = Counter(viewers_test.passage_of(test, secret, slot) for slot in range(1, 9))
        assert set(passages.values()) == {4}
        coins.update(viewers_test.coin(test, secret, slot) for slot in range(1, 9))
    assert 1080 < coins[0] < 1320  # of 2,400, five standard deviations either way


def test_what_an_audience_cannot_take_is_refused(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("triangle", PAIR, listeners=("Ada",), trials=8), "three")
    seals.seal(casebook, "three")
    seal_plan(casebook)
    with pytest.raises(PlanError, match="is triangle; viewers take ABX or a preference"):
        making.drawn_up(casebook, "three", "page", 8, {})
    for trials in (3, 13, 10**9):
        with pytest.raises(PlanError, match="give 4 to 12"):
            making.drawn_up(casebook, "evening", "page", trials, {})
    with pytest.raises(PlanError, match="not sealed yet"):
        drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=8), "draft")
        making.drawn_up(casebook, "draft", "page", 8, {})


def test_real_gear_is_refused(swapped: Casebook) -> None:
    drafting.draft(swapped, Wish("abx", PAIR, listeners=("Ada",), trials=8, operator="Bo"), "evening")
    seals.seal(swapped, "evening")
    with pytest.raises(PlanError, match="real gear, which nobody hears elsewhere"):
        making.drawn_up(swapped, "evening", "page", 8, {})
