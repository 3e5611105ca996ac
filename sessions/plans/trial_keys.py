"""The key of every trial, from a plan's secret alone, by the sealing rule. Pure; `sealing.md` says it in words.

Each key is drawn independently of all others, so that counting what was played before gains a listener nothing. What
is balanced (passages, and the pairs of a round robin) says nothing about a key. How a method draws is the method's.
"""

from __future__ import annotations

from functools import lru_cache

from . import randomisation
from .methods.method import Key
from .plan import Plan
from .randomisation import Coins


def key(plan: Plan, secret: bytes, listener: str, trial: int, offer: int) -> Key:
    """The key of one trial of a plan, label to place; trials and offers count from 1."""
    setups = len(plan.setups)
    coins = Coins(secret, listener, trial, offer)
    apart = controls(plan, secret, listener)
    counted = plan.method.key(coins, setups, trial - sum(control < trial for control in apart))
    if not apart:
        return counted
    control = plan.method.control_key(coins, setups)  # both are drawn in every trial, so that no time tells which it is
    return control if trial in apart else counted


def controls(plan: Plan, secret: bytes, listener: str) -> frozenset[int]:
    """The trials in which every stimulus is the same setup: planned, spread by the secret, never counted."""
    return _controls(secret, listener, plan.slots, plan.controls) if plan.controls else frozenset()


@lru_cache(maxsize=256)
def _controls(secret: bytes, listener: str, slots: int, wanted: int) -> frozenset[int]:
    order = randomisation.permutation(secret, "controls", listener, 1, 1, slots)
    return frozenset(place + 1 for place in order[:wanted])


def passage_index(secret: bytes, listener: str, trial: int, passages: int) -> int:
    """Which passage a trial plays: blocks of all passages, each block in its own random order.

    The block's first trial names the draw, so passages are spread evenly; that balance says nothing of the key.
    """
    block, place = divmod(trial - 1, passages)
    return randomisation.permutation(secret, "passages", listener, block * passages + 1, 1, passages)[place]
