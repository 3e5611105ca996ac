"""The key of every trial, from a plan's secret alone, by the sealing rule. Pure; `sealing.md` says it in words.

Each key is drawn independently of all others, so that counting what was played before gains a listener nothing. What
is balanced (passages, and the pairs of a round robin) says nothing about a key.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from . import randomisation
from .methods import ANCHORS_HZ, REFERENCE, Key, pairs

TRIANGLES = ((0, 0, 1), (0, 1, 0), (1, 0, 0), (1, 1, 0), (1, 0, 1), (0, 1, 1))
TETRADS = ((0, 0, 1, 1), (0, 1, 0, 1), (0, 1, 1, 0), (1, 0, 0, 1), (1, 0, 1, 0), (1, 1, 0, 0))


def key(document: Mapping[str, Any], secret: bytes, listener: str, trial: int, offer: int) -> Key:
    """The key of one trial of a plan: label to place.

    Parameters
    ----------
    document
        The plan's document; its method, setups and controls matter here.
    trial, offer
        From 1.
    """
    method, setups = document["method"], len(document["setups"])
    where = (listener, trial, offer)
    if trial in controls(document, secret, listener):
        place = randomisation.draw(secret, "control", *where, setups)
        return dict.fromkeys(_labels(method), place)
    if method == "abx":
        return {"A": 0, "B": 1, "X": randomisation.draw(secret, "x", *where, 2)}
    if method == "preference":
        first = randomisation.draw(secret, "order", *where, 2)
        return {"1": first, "2": 1 - first}
    if method == "triangle":
        return _numbered(TRIANGLES[randomisation.draw(secret, "order", *where, 6)])
    if method == "tetrad":
        return _numbered(TETRADS[randomisation.draw(secret, "order", *where, 6)])
    if method == "duo-trio":
        reference, turned = divmod(randomisation.draw(secret, "order", *where, 4), 2)
        return {REFERENCE: reference, "1": reference ^ turned, "2": reference ^ 1 ^ turned}
    if method == "same-different":
        first, second = divmod(randomisation.draw(secret, "order", *where, 4), 2)
        return {"1": first, "2": second}
    if method == "hidden-reference":
        first = randomisation.draw(secret, "order", *where, 2)
        return {REFERENCE: 0, "1": first, "2": 1 - first}
    if method == "multi-stimulus":
        order = randomisation.permutation(secret, "order", *where, setups + len(ANCHORS_HZ))
        return {REFERENCE: 0} | _numbered(order)
    one, other = pair(document, secret, listener, trial)
    turned = randomisation.draw(secret, "order", *where, 2)
    return {"1": other, "2": one} if turned else {"1": one, "2": other}


def controls(document: Mapping[str, Any], secret: bytes, listener: str) -> frozenset[int]:
    """The trials in which every stimulus is the same setup: planned, spread by the secret, never counted."""
    wanted = int(document.get("controls", 0))
    return _controls(secret, listener, int(document["trials"]) + wanted, wanted) if wanted else frozenset()


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


def pair(document: Mapping[str, Any], secret: bytes, listener: str, trial: int) -> tuple[int, int]:
    """Which two setups a round-robin trial plays: blocks of all pairs, each block in its own random order."""
    every = pairs(len(document["setups"]))
    counted = trial - sum(control < trial for control in controls(document, secret, listener))
    block, place = divmod(counted - 1, len(every))
    order = randomisation.permutation(secret, "pairs", listener, block * len(every) + 1, 1, len(every))
    return every[order[place]]


def _numbered(places: tuple[int, ...] | list[int]) -> Key:
    return {str(number): place for number, place in enumerate(places, 1)}


def _labels(method: str) -> tuple[str, ...]:
    from .methods import METHODS

    return METHODS[method].stimuli
