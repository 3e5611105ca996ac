"""The coins of a plan: every random choice follows from the key of its coins, by the sealing rule.

Pure, and the standard library alone. `sealing.md` beside this file states the rule in words.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass, replace

RULE = 1  # frozen: a change of the rule is a new number
PHRASE_RULE = 2  # of plans that await a phrase from outside, or whose second secret somebody else holds


def coin_key(secret: bytes, phrase: str | None, second: str | None = None) -> bytes:
    """The key of all coins: the secret itself; with a phrase hmac_sha256(secret, "phrase|" + phrase).

    A second secret comes in last: hmac_sha256(what there is so far, "second hand|" + second secret).

    Parameters
    ----------
    phrase
        As it is kept (`coin_phrase.normalised`); None for a plan that awaits none.
    second
        As it is hashed (`second_hand.normalised`); None for a plan without one.
    """
    key = secret
    for name, words in (("phrase", phrase), ("second hand", second)):
        if words is not None:
            key = hmac.new(key, f"{name}|{words}".encode(), hashlib.sha256).digest()
    return key


def draw(secret: bytes, purpose: str, listener: str, trial: int, offer: int, k: int, *index: int) -> int:
    """One of `k` equally likely whole numbers 0 … k-1.

    Parameters
    ----------
    secret
        The key of the plan's coins, 32 bytes (`coin_key`).
    purpose, listener, trial, offer
        What is drawn (``x``, ``order``, ``passages``), for whom, in which trial (from 1), at which offer (from 1).
    k
        How many equally likely outcomes, 1 … 2**32.
    index
        The number of the draw inside a permutation, appended to the message.
    """
    message = "|".join([purpose, listener, str(trial), str(offer), *map(str, index)]).encode()
    digest = hmac.new(secret, message, hashlib.sha256).digest()
    limit = (1 << 32) // k * k
    while True:
        for place in range(0, 32, 4):
            number = int.from_bytes(digest[place : place + 4], "big")
            if number < limit:
                return number % k
        digest = hashlib.sha256(digest).digest()


def permutation(secret: bytes, purpose: str, listener: str, trial: int, offer: int, n: int) -> list[int]:
    """A fair random order of 0 … n-1, by Fisher–Yates from the last place down."""
    order = list(range(n))
    for place in range(n - 1, 0, -1):
        other = draw(secret, purpose, listener, trial, offer, place + 1, place)
        order[place], order[other] = order[other], order[place]
    return order


@dataclass(frozen=True)
class Coins:
    """The coins of one trial at one offer: whatever is drawn there follows from the plan's secret."""

    secret: bytes
    listener: str
    trial: int
    offer: int

    def draw(self, purpose: str, k: int) -> int:
        """One of `k` equally likely whole numbers 0 … k-1."""
        return draw(self.secret, purpose, self.listener, self.trial, self.offer, k)

    def permutation(self, purpose: str, n: int) -> list[int]:
        """A fair random order of 0 … n-1."""
        return permutation(self.secret, purpose, self.listener, self.trial, self.offer, n)

    def of(self, trial: int) -> Coins:
        """The coins of another trial of the same listener, at its first offer."""
        return replace(self, trial=trial, offer=1)


def seal(secret: bytes, plan: str) -> str:
    """The commitment to a plan's canonical JSON text and its secret: sha256(secret + plan), in hex."""
    return hashlib.sha256(secret + plan.encode()).hexdigest()
