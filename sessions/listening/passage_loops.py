"""The loop that a listener set in each passage: a part of it, in frames of what is played. It plays nothing.

A loop lies in its passage and is there again when that passage comes again, so that it never leads into another one.
"""

from __future__ import annotations

from typing import Protocol

LEAST_LOOP_S = 0.5  # as long as the silence after it; our choice
TOO_SHORT = f"a loop has {LEAST_LOOP_S:g} s at least: listen on, and press the key further on"


class Played(Protocol):
    """What a loop lies in, as it is played."""

    @property
    def id(self) -> str: ...  # noqa: D102 - the protocol's parts say what they are

    @property
    def frames(self) -> int: ...  # noqa: D102

    @property
    def rate_hz(self) -> int: ...  # noqa: D102


class PassageLoops:
    """The loops so far, none at first."""

    def __init__(self) -> None:
        self._parts: dict[str, tuple[int, int]] = {}

    def part(self, passage: Played) -> tuple[int, int]:
        """What is played of a passage: its loop or all of it; the first frame and the one after the last."""
        return self._parts.get(passage.id, (0, passage.frames))

    def part_s(self, passage: Played) -> tuple[float, float] | None:
        """The loop in a passage, in seconds from its start; None where there is none."""
        if passage.id not in self._parts:
            return None
        first, end = self._parts[passage.id]
        return first / passage.rate_hz, end / passage.rate_hz

    def begin(self, passage: Played, frame: int) -> str:
        """Let the loop begin at a frame of the passage; why it cannot, or nothing."""
        return self._set(passage, frame, self.part(passage)[1])

    def end(self, passage: Played, frame: int) -> str:
        """Let the loop end before a frame of the passage; why it cannot, or nothing."""
        return self._set(passage, self.part(passage)[0], frame)

    def clear(self, passage: Played) -> None:
        """Play all of the passage again."""
        self._parts.pop(passage.id, None)

    def _set(self, passage: Played, first: int, end: int) -> str:
        if end - first < LEAST_LOOP_S * passage.rate_hz:
            return TOO_SHORT
        self._parts[passage.id] = first, end
        return ""
