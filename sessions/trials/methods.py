"""The blind methods as data and small pure rules: what is heard, what is asked, what the key is, what counts.

A trial's key maps each stimulus the listener can hear to the place of a setup in the plan (0 or 1).
"""

from __future__ import annotations

from dataclasses import dataclass

from stats.counts import Alternative

from . import coins

Key = dict[str, int]


@dataclass(frozen=True)
class Method:
    """One blind method.

    Attributes
    ----------
    stimuli
        What can be heard in a trial, by the label the listener sees.
    answers
        What can be answered: label to sentence.
    default_question
        Asked when the plan names no other.
    alternative
        Of the binomial test, ``greater`` or ``two-sided``.
    """

    name: str
    stimuli: tuple[str, ...]
    answers: dict[str, str]
    default_question: str
    alternative: Alternative


ABX = Method("abx", ("A", "B", "X"), {"A": "X is A", "B": "X is B"}, "Is X the same as A or as B?", "greater")
PREFERENCE = Method(
    "preference",
    ("1", "2"),
    {"1": "the first", "2": "the second"},
    "Which of the two do you prefer?",
    "two-sided",
)
METHODS = {method.name: method for method in (ABX, PREFERENCE)}


def key(method: str, secret: bytes, listener: str, trial: int, offer: int) -> Key:
    """The key of one trial: one fair coin, from the secret alone, never forced into balance."""
    if method == ABX.name:
        return {"A": 0, "B": 1, "X": coins.draw(secret, "x", listener, trial, offer, 2)}
    first = coins.draw(secret, "order", listener, trial, offer, 2)
    return {"1": first, "2": 1 - first}


def passage_index(secret: bytes, listener: str, trial: int, passages: int) -> int:
    """Which passage a trial plays: blocks of all passages, each block in its own random order.

    The block's first trial names the draw, so passages are spread evenly; that balance says nothing of the key.
    """
    block, place = divmod(trial - 1, passages)
    return coins.permutation(secret, "passages", listener, block * passages + 1, 1, passages)[place]


def score(method: str, trial_key: Key, answer: str) -> int:
    """1 for a correct ABX answer, or for a preference given to the plan's first setup; otherwise 0."""
    if method == ABX.name:
        return int(trial_key[answer] == trial_key["X"])
    return int(trial_key[answer] == 0)
