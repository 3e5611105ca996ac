"""Choosing telling passages: where in a track equally loud setups sound most unlike. Pure, but for the files read.

Two kinds are proposed: the stretches in which the loudness patterns differ most (`loudness_pattern` says how that is
measured), and those around moments that somebody marked. Both begin and end where the music is quiet. Stretches in
which the recordings are out of step are left out, and of the first kind those that are nearly silent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from . import in_step, loudness_pattern, quiet_cuts
from .clip import Clip
from .errors import MeasureError, PassageError
from .files import reading
from .levels.weighting import SILENCE_DB
from .loudness_pattern import CELL_S, Cells, band_edges
from .match import SHORTEST_S
from .mend_values import Mend
from .runs import runs
from .spectrogram import band_powers, steps_in, streamed_band_powers

HOP_S = 0.1
WINDOW_S = 0.2
QUIET_DB = 40.0  # stretches this far below the track's own level are not proposed; our choice
AROUND_S = 2.0  # so much is cut before and after a marked moment at least, where the track allows; our choice
WITHIN_S = 1.0  # a passage that is there already holds a moment so far from its ends

Numbers = NDArray[np.float64]
Span = tuple[int, int]


@dataclass(frozen=True)
class Proposal:
    """A stretch of the track, in frames.

    Attributes
    ----------
    difference_sone
        How far the loudness patterns of the two setups least alike differ in it, on average over time.
    loudness_sone
        How loud it is at the level at which the track is taken to play.
    telling
        Whether it was chosen for its difference.
    marks_s
        The marked moments for which it was taken, in seconds; one that is not telling was cut around them. It lies
        beside a moment that no stretch holds, being out of step.
    """

    start_frame: int
    frames: int
    difference_sone: float
    loudness_sone: float
    telling: bool = True
    marks_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class Silence:
    """A stretch, in seconds, in which one setup is silent and another plays on as usual; `setup` is which.

    `is_pause`: the music pauses, and what is heard of the other is a hum or a noise of its own.
    """

    setup: str
    begin_s: float
    end_s: float
    is_pause: bool = False


@dataclass(frozen=True, eq=False)
class Survey:
    """A track looked through: what is proposed, and what it was chosen by.

    Attributes
    ----------
    moments_s, differences_sone
        For each half second, the difference over a stretch of the shortest length about it, measured like a proposal's;
        not a number where the recordings are out of step in it.
    levels_db
        The music's level then, the track's own as a whole being 0.
    skipped_s
        Stretches in which the recordings are out of step, or one is silent.
    silences
        Those of them that are a silence of one setup where another plays on: from about 0.8 s on.
    """

    proposals: tuple[Proposal, ...]
    moments_s: Numbers
    differences_sone: Numbers
    levels_db: Numbers
    skipped_s: tuple[tuple[float, float], ...]
    silences: tuple[Silence, ...] = ()


@dataclass(frozen=True)
class Wish:
    """What is to be proposed: how many by their difference, how long in seconds, and around which moments as well."""

    count: int = 1
    length_s: tuple[float, float] = (10.0, 20.0)
    around_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class FilePart:
    """A file, the frame from which it is looked at (counted at the rate asked for), and how it is mended."""

    path: Path
    start_frame: int = 0
    mend: Mend | None = None


def survey(clips: Mapping[str, Clip], wish: Wish | None = None) -> Survey:
    """What is proposed of a track: the most telling stretches first, then those around marked moments.

    They overlap only where a marked moment has no other place.

    Parameters
    ----------
    clips
        The whole track through each setup: two or more, same rate; the shortest sets the length.
    wish
        None: the most telling 10 to 20 s. A track shorter than the shortest length is proposed whole.

    Raises
    ------
    MeasureError
        If there are fewer than two clips, their rates differ, or they hold samples that are not numbers.
    PassageError
        If the track is shorter than 1 s or silent in a setup, a moment lies outside, or the lengths or the count cannot
        be.
    """
    wish = wish or Wish()
    if len({clip.rate_hz for clip in clips.values()}) > 1:
        raise MeasureError("passages are suggested for two or more setups at one sample rate")
    rate_hz = next((clip.rate_hz for clip in clips.values()), 0)
    frames = min((clip.frames for clip in clips.values()), default=0)
    _check(wish, len(clips), frames, rate_hz)
    edges = band_edges(rate_hz)
    powers = {
        name: band_powers(Clip(clip.samples[:frames], rate_hz), edges, HOP_S, WINDOW_S) for name, clip in clips.items()
    }
    return _look_through(powers, frames, rate_hz, wish)


def survey_files(parts: Mapping[str, FilePart], frames: int, rate_hz: int, wish: Wish | None = None) -> Survey:
    """As `survey`, of files that are read in turn, each at its own rate: an hour takes little memory.

    Parameters
    ----------
    parts
        The track through each setup: two or more.
    frames, rate_hz
        How much of it is looked at, and the rate at which these frames, and those of the proposals, are counted.
    wish
        Its moments count from the first of these frames.

    Raises
    ------
    FileError
        If a file cannot be read.
    MeasureError, PassageError
        As `survey`.
    """
    wish = wish or Wish()
    _check(wish, len(parts), frames, rate_hz)
    edges, steps = band_edges(rate_hz), steps_in(frames, rate_hz, HOP_S, WINDOW_S)
    powers = {name: _powers_in_file(part, rate_hz, edges, steps) for name, part in parts.items()}
    return _look_through(powers, frames, rate_hz, wish)


def _powers_in_file(part: FilePart, rate_hz: int, edges: Sequence[float], steps: int) -> Numbers:
    info, mend = reading.inspect(part.path), part.mend or Mend()
    first = (part.start_frame / rate_hz + mend.delay_s) * info.rate_hz
    hop_s = HOP_S * (1 + mend.stretch_ppm * 1e-6)
    blocks = reading.blocks(part.path)
    return streamed_band_powers(blocks, info.rate_hz, edges, hop_s, WINDOW_S, steps, first_frame=first)


def _check(wish: Wish, setups: int, frames: int, rate_hz: int) -> None:
    shortest_s, longest_s = wish.length_s
    if not SHORTEST_S <= shortest_s <= longest_s or wish.count < 1:
        raise PassageError(
            f"cannot suggest {wish.count} passages of {shortest_s:g} to {longest_s:g} s; ask for one or more, "
            f"of {SHORTEST_S:g} s or longer, the shorter length first"
        )
    if setups < 2:
        raise MeasureError("passages are suggested for two or more setups")
    if frames < SHORTEST_S * rate_hz:
        raise PassageError(f"the track is {frames / rate_hz:.2f} s long; at least {SHORTEST_S:g} s are needed")
    for moment_s in wish.around_s:
        if not 0 <= moment_s <= frames / rate_hz:
            raise PassageError(
                f"the moment {moment_s:.2f} s lies outside what all recordings hold; choose one from 0 to "
                f"{frames / rate_hz:.2f} s"
            )


def _look_through(powers: Mapping[str, Numbers], frames: int, rate_hz: int, wish: Wish) -> Survey:
    """The survey, from each setup's band powers over time."""
    for name, power in powers.items():
        if 10 * np.log10(np.sum(power, axis=1).max()) < SILENCE_DB:
            raise PassageError(f"the track is silent in setup {name!r}; choose another")
    setups = list(powers.values())
    track = _Track([loudness_pattern.cells(each, band_edges(rate_hz), HOP_S) for each in setups], len(setups[0]))
    apart = [in_step.out_of_step(one, other, HOP_S) for one, other in combinations(setups, 2)]
    skipped = np.any(apart, axis=0)
    spans = quiet_cuts.stretches(10 * np.log10(np.sum(setups[0], axis=1)), HOP_S, wish.length_s)
    usable = [span for span in spans if not np.any(skipped[span[0] : span[1]])] or spans
    telling = _most_telling(track, usable, wish.count)
    marks_of: dict[Span, tuple[float, ...]] = dict.fromkeys(telling, ())
    for mark_s in sorted(set(wish.around_s)):
        span = _around(mark_s, track, usable, list(marks_of))
        marks_of[span] = (*marks_of.get(span, ()), mark_s)
    moments: Numbers = np.arange(len(track.level), dtype=np.float64) * CELL_S
    levels_db: Numbers = 10 * np.log10(track.level)
    about = [track.about(moment_s, wish.length_s[0]) for moment_s in moments]
    return Survey(
        tuple(
            _proposal(track, span, frames, rate_hz, telling=span in telling, marks_s=marks_s)
            for span, marks_s in marks_of.items()
        ),
        moments,
        np.array([np.nan if np.any(skipped[slice(*span)]) else track.differs(span)[0] for span in about]),
        levels_db,
        tuple(_stretch_s(span, track.steps, frames / rate_hz) for span in runs(skipped)),
        tuple(
            Silence(name, *_stretch_s(span, track.steps, frames / rate_hz), is_pause)
            for is_pause, silent in zip((False, True), _silent(powers), strict=True)
            for name, flags in silent.items()
            for span in runs(flags)
        ),
    )


def _silent(powers: Mapping[str, Numbers]) -> tuple[dict[str, NDArray[np.bool_]], dict[str, NDArray[np.bool_]]]:
    """For each setup the steps at which it is silent where another plays on as usual, and where that only hums."""
    gone, pauses = ({name: np.zeros(len(power), dtype=bool) for name, power in powers.items()} for _ in range(2))
    for pair in combinations(powers, 2):
        which = in_step.silent(powers[pair[0]], powers[pair[1]], HOP_S)
        for place, name in enumerate(pair, 1):
            gone[name] |= which == place
            pauses[name] |= which == -place
    return gone, pauses


class _Track:
    """How unlike the setups sound over any steps of a track."""

    def __init__(self, setups: Sequence[Cells], steps: int) -> None:
        self.steps = steps
        self.level: Numbers = np.mean([one.level for one in setups], axis=0)
        self._setups = setups

    def differs(self, span: Span) -> tuple[float, float]:
        """The difference over some steps, and how loud they are, in sone."""
        return loudness_pattern.difference_sone(self._setups, *self._cells(span))

    def rank(self, span: Span) -> tuple[float, float]:
        """By what stretches are chosen: the difference and, where none of two differs more, how loud they are."""
        apart, loudness = self.differs(span)
        return round(apart, 3), loudness

    def is_quiet(self, span: Span) -> bool:
        """Whether some steps lie far below the track's own level."""
        start, end = self._cells(span)
        return float(np.mean(self.level[start:end])) < 10 ** (-QUIET_DB / 10)

    def about(self, moment_s: float, length_s: float) -> Span:
        """The steps of a length about a moment, moved inside the track."""
        length = min(round(length_s / HOP_S), self.steps)
        start = min(max(0, round((moment_s - length_s / 2) / HOP_S)), self.steps - length)
        return start, start + length

    def _cells(self, span: Span) -> Span:
        """The cells that steps fill, at least one."""
        a_cell = round(CELL_S / HOP_S)
        start = min(round(span[0] / a_cell), len(self.level) - 1)
        return start, max(start + 1, round(span[1] / a_cell))


def _most_telling(track: _Track, spans: Sequence[Span], count: int) -> list[Span]:
    """The stretches that do not overlap in which the setups differ most; the most telling first."""
    loud = [span for span in spans if not track.is_quiet(span)]
    if not loud:
        raise PassageError("the track is silent; choose another")
    chosen: list[Span] = []
    for span in sorted(loud, key=track.rank, reverse=True):
        if _is_free(span, chosen):
            chosen.append(span)
        if len(chosen) == count:
            break
    return chosen


def _around(mark_s: float, track: _Track, spans: Sequence[Span], taken: Sequence[Span]) -> Span:
    """The stretch taken that holds a mark or else, of those that do and overlap none taken, the most telling."""
    shared = next((span for span in taken if _holds(span, mark_s, WITHIN_S, track.steps)), None)
    if shared:
        return shared
    holding = [span for span in spans if _holds(span, mark_s, AROUND_S, track.steps)]
    holding = [span for span in holding if _is_free(span, taken)] or holding
    return max(holding, key=track.rank, default=min(spans, key=lambda each: _off(each, mark_s)))


def _off(span: Span, mark_s: float) -> tuple[float, float]:
    """How far a mark lies outside a stretch, and from its middle, in steps."""
    at = mark_s / HOP_S
    return max(span[0] - at, at - span[1], 0.0), abs(sum(span) / 2 - at)


def _holds(span: Span, mark_s: float, around_s: float, steps: int) -> bool:
    """Whether a stretch holds a mark with so much of the music before and after it, as far as there is music."""
    first, last = (mark_s - around_s) / HOP_S, (mark_s + around_s) / HOP_S
    return span[0] <= max(0.0, first) and span[1] >= min(last, steps)


def _is_free(span: Span, taken: Sequence[Span]) -> bool:
    return all(span[1] <= start or span[0] >= end for start, end in taken)


def _proposal(
    track: _Track, span: Span, frames: int, rate_hz: int, *, telling: bool, marks_s: tuple[float, ...]
) -> Proposal:
    first = 0 if span[0] == 0 else _middle(span[0], rate_hz)
    last = frames if span[1] >= track.steps else _middle(span[1], rate_hz)
    return Proposal(first, last - first, *track.differs(span), telling, marks_s)


def _stretch_s(span: Span, steps: int, length_s: float) -> tuple[float, float]:
    """The seconds that some steps stand for, with the ends that a proposal of these steps has."""
    start, end = (step * HOP_S + WINDOW_S / 2 for step in span)
    return 0.0 if span[0] == 0 else start, length_s if span[1] >= steps else end


def _middle(step: int, rate_hz: int) -> int:
    """The frame in the middle of a step's window: where it is quiet, if the step is."""
    return round(step * HOP_S * rate_hz) + round(WINDOW_S * rate_hz) // 2
