"""Claims as timed notes of a video: WebVTT, and lines of text for its description. Pure.

A note stands from when its sentence is said to when that ends; where nobody said when, for as long as it takes to read
(`LETTERS_PER_S`), and at most until the next one begins.
"""

from __future__ import annotations

from collections.abc import Sequence

from audio import track_time

from .. import timed_text
from .standing import JudgedClaim
from .wording import FOUND_BY_A_LIST

LETTERS_PER_S = 15.0  # common practice of subtitles, no source
LEAST_MS = 3000


def timed(judged: Sequence[JudgedClaim]) -> list[JudgedClaim]:
    """The claims of which somebody said when they are said in the video, in its order."""
    known = [one for one in judged if one.claim.content.video_from_ms is not None]
    return sorted(known, key=lambda one: (one.claim.content.video_from_ms or 0, one.claim.number))


def webvtt(judged: Sequence[JudgedClaim]) -> str:
    """The notes as a WebVTT file: one cue a claim, with its number, its standing, marks and what it rests on."""
    noted, made = timed(judged), []
    starts = [one.claim.content.video_from_ms or 0 for one in noted]
    for place, one in enumerate(noted):
        later = [start for start in starts[place + 1 :] if start > starts[place]]
        end = _end_ms(one, starts[place], later[0] if later else None)
        made.append(timed_text.cue(f"claim {one.claim.number}", starts[place], end, [one.claim.text, *_below(one)]))
    return timed_text.webvtt(made, f"What is said, and what it rests on. Made by earwitness. {FOUND_BY_A_LIST}")


def text(judged: Sequence[JudgedClaim]) -> str:
    """The notes as lines: when, what is said, what it came to and rests on."""
    lines = []
    for one in timed(judged):
        at = track_time.told((one.claim.content.video_from_ms or 0) // 1000)  # never later than it is said
        lines += [f"{at} {one.claim.text}", *(f"    {' '.join(line.split())}" for line in _below(one))]
    return "\n".join([*lines, "", FOUND_BY_A_LIST]) + "\n"


def _below(one: JudgedClaim) -> list[str]:
    """What a claim came to, which of its words say too much, and what it rests on, a line each."""
    marks = [f"says more than its evidence: {mark.told}" for mark in one.overstated]
    return [one.told, *marks, *(f"{part.what}: {part.said}" for part in one.parts)]


def _end_ms(one: JudgedClaim, start_ms: int, next_ms: int | None) -> int:
    stated = one.claim.content.video_to_ms
    if stated is not None:
        return stated
    letters = len(one.claim.text) + sum(map(len, _below(one)))
    read_ms = start_ms + max(LEAST_MS, round(1000 * letters / LETTERS_PER_S))
    return read_ms if next_ms is None else min(read_ms, next_ms)
