"""The key of every trial, from a plan's secret alone, by the sealing rule. Pure; `sealing.md` says it in words.

Each key is drawn independently of all others, so that counting what was played before gains a listener nothing. What
is balanced (passages, and the pairs of a round robin) says nothing about a key. How a method draws is the method's.
"""

from __future__ import annotations

from functools import lru_cache

from . import randomisation
from .methods.method import Key, Method
from .plan import Plan
from .randomisation import Coins


def key(plan: Plan, secret: bytes, listener: str, trial: int, offer: int) -> Key:
    """The key of one trial of a plan, label to place; trials and offers count from 1."""
    method, setups = plan.method, len(plan.setups)
    coins = Coins(secret, listener, trial, offer)
    same, known = controls(plan, secret, listener), known_differences(plan, secret, listener)
    counted = method.key(coins, setups, trial - sum(other < trial for other in same | known))
    if not same and not known:
        return counted
    # all of them are made in every trial, so that no time tells which it is
    of_same, of_known = method.control_key(coins, setups), method.known_key(counted, setups + len(plan.anchors))
    return of_same if trial in same else of_known if trial in known else counted


def met(plan: Plan, secret: bytes, listener: str) -> Method:
    """The plan's method as one listener meets it; who is not of the plan (in a rehearsal) as its first listener."""
    place = next((at for at, one in enumerate(plan.listeners) if one.id == listener), 0)
    return plan.method.met(Coins(secret, plan.id, 1, 1), place)


def controls(plan: Plan, secret: bytes, listener: str) -> frozenset[int]:
    """The trials in which every stimulus is the same setup: planned, spread by the secret, never counted."""
    return frozenset(_spread(plan, secret, listener)[: plan.controls])


def known_differences(plan: Plan, secret: bytes, listener: str) -> frozenset[int]:
    """The trials of the plan's known difference: planned, spread by the secret, never counted."""
    return frozenset(_spread(plan, secret, listener)[plan.controls : plan.slots - plan.trials])


def _spread(plan: Plan, secret: bytes, listener: str) -> tuple[int, ...]:
    """The trials in the order in which they are set apart: controls first, then the known difference."""
    return _permuted(secret, listener, plan.slots) if plan.slots > plan.trials else ()


@lru_cache(maxsize=256)
def _permuted(secret: bytes, listener: str, slots: int) -> tuple[int, ...]:
    return tuple(place + 1 for place in randomisation.permutation(secret, "controls", listener, 1, 1, slots))


def passage_index(secret: bytes, listener: str, trial: int, passages: int) -> int:
    """Which passage a trial plays: blocks of all passages, each block in its own random order.

    The block's first trial names the draw, so passages are spread evenly; that balance says nothing of the key.
    """
    block, place = divmod(trial - 1, passages)
    return randomisation.permutation(secret, "passages", listener, block * passages + 1, 1, passages)[place]
