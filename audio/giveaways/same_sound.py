"""Pairs of recordings of which nothing new can be found: both hold the same samples, or so did a pair before. Pure."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from ..clip import Clip
from ..parallel import Submit, Thing

FIRST, SECOND = "\ue000", "\ue001"  # what two recordings are called until their names are put in: no name holds them

Found = TypeVar("Found")


def content(*clips: Clip) -> str:
    """What clips hold, as a hash: the same for the same samples at the same rates on the same channels."""
    whole = hashlib.sha256()
    for clip in clips:
        whole.update(repr((clip.samples.shape, clip.rate_hz, clip.channel_mask)).encode())
        whole.update(np.ascontiguousarray(clip.samples).data)
    return whole.hexdigest()


def once(
    submit: Submit,
    work: Callable[[Thing], list[Found]],
    pairs: Sequence[Thing],
    contents: Sequence[tuple[str, str]],
) -> list[Callable[[], list[Found]]]:
    """What waits for `work` on each pair: done once for pairs of the same contents in the same order, else never.

    Between two of the same content nothing is found. What is found must not hang on names.

    Parameters
    ----------
    submit
        It takes every pair, so that what counts pairs counts all of them; of a pair that is known, work that is none.
    contents
        Of each pair, what its two hold.
    """
    begun: dict[tuple[str, str], Callable[[], list[Found]]] = {}
    waiting: list[Callable[[], list[Found]]] = []
    for pair, held in zip(pairs, contents, strict=True):
        if held[0] == held[1] or held in begun:
            waiting.append(functools.partial(_known, submit(_no_work, None), begun.get(held)))
        else:
            begun[held] = functools.cache(submit(work, pair))
            waiting.append(begun[held])
    return waiting


def named(said: str, first: str, second: str) -> str:
    """A sentence with both recordings called by their names."""
    return said.translate({ord(FIRST): first, ord(SECOND): second})


def _no_work(_: None) -> None:
    """Work on a pair of which all is known."""


def _known(counted: Callable[[], None], before: Callable[[], list[Found]] | None) -> list[Found]:
    counted()
    return [] if before is None else before()
