"""Surveys of pieces of one track as one survey of the track. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .passages import Survey


def joined(parts: Sequence[tuple[int, int, Survey]], rate_hz: int, count: int) -> Survey:
    """Surveys of pieces, each with the frame at which it begins and how many it has, as one.

    The most telling `count` of all stay.

    What lies between two pieces is skipped. Levels are those of each piece within itself.
    """
    if len(parts) == 1 and parts[0][0] == 0:
        return parts[0][2]
    moved = [
        (start / rate_hz, (start + frames) / rate_hz, replace(
            survey,
            proposals=tuple(
                replace(
                    each,
                    start_frame=each.start_frame + start,
                    marks_s=tuple(mark_s + start / rate_hz for mark_s in each.marks_s),
                )
                for each in survey.proposals
            ),
            moments_s=survey.moments_s + start / rate_hz,
            skipped_s=tuple((begin + start / rate_hz, end + start / rate_hz) for begin, end in survey.skipped_s),
            silences=tuple(
                replace(each, begin_s=each.begin_s + start / rate_hz, end_s=each.end_s + start / rate_hz)
                for each in survey.silences
            ),
        ))
        for start, frames, survey in parts
    ]  # fmt: skip
    proposals = [each for *_, survey in moved for each in survey.proposals]
    telling = sorted((each for each in proposals if each.telling), key=lambda each: -each.difference_sone)
    gone = [each for each in telling[count:] if not each.marks_s]
    ordered = [*telling, *(each for each in proposals if not each.telling)]
    gaps = [(end_s, start_s) for (_, end_s, _), (start_s, *_) in pairwise(moved)]
    apart = [np.full(1, np.nan)] * len(gaps)
    return Survey(
        tuple(each for each in ordered if each not in gone),
        _chained([survey.moments_s for *_, survey in moved], [np.full(1, start_s) for _, start_s in gaps]),
        _chained([survey.differences_sone for *_, survey in moved], apart),
        _chained([survey.levels_db for *_, survey in moved], apart),
        tuple(sorted([*gaps, *(each for *_, survey in moved for each in survey.skipped_s)])),
        tuple(each for *_, survey in moved for each in survey.silences),
    )


def _chained(
    parts: Sequence[NDArray[np.float64]],
    between: Sequence[NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Series one after the other, something between each two."""
    pieces = [parts[0]]
    for gap, part in zip(between, parts[1:], strict=True):
        pieces += [gap, part]
    return np.concatenate(pieces)
