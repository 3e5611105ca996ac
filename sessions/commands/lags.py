"""Where recordings lie, put into words; and what is asked where one fits at two places as well."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import click

from audio import track_time
from audio.alignment.pieces import Piece
from audio.alignment.track import LONE_S, Fit

from ..casebook import catalogue, documents
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import track_alignment
from ..preparation.track_alignment import Question
from .context import say
from .times import seconds

CUT_S = 0.002  # pieces whose lags differ by less where they meet differ by their clocks
UNLIKE_S = 1.0  # between two pieces, beyond what a cut explains
IN_PLACE_S, CLOCK_PPM = 0.00005, 0.05  # nearer, four decimals and one show none


def settle(casebook: Casebook, tracks: Sequence[Track], as_json: bool) -> None:
    """Ask where recordings of these tracks lie that fit at two lags as well, or say how to choose later."""
    for asked in (one for track in tracks for one in track_alignment.questions(casebook, track)):
        lag_s = answer(asked, as_json)
        if lag_s is None:
            say(f"{asked.sentence}; choose: {track_alignment.how_to_choose(asked)}", as_json)
        else:
            music, setup = catalogue.find(casebook, Track, asked.track), catalogue.find(casebook, Setup, asked.setup)
            track_alignment.choose(casebook, music, setup, lag_s)


def answer(asked: Question, as_json: bool) -> float | None:
    """The lag that somebody at the terminal chooses, in seconds; None where nobody is there, or knows."""
    if not sys.stdin.isatty():
        return None
    say(asked.sentence, as_json)
    number = click.prompt(
        "Which one? 1 or 2 (listen to the beginnings), or 0 to leave it out for now",
        type=click.IntRange(0, 2),
        err=as_json,
    )
    return (None, *asked.lags_s)[number]


def lag_of(text: str) -> tuple[str, float]:
    """A name and a lag in seconds of ``NAME=SECONDS``.

    Raises
    ------
    CatalogueError
        If it is not that.
    """
    name, _, lag = text.rpartition("=")
    lag_s = seconds(lag)
    if not name or lag_s is None:
        raise CatalogueError(f"--lag takes NAME=SECONDS (or NAME=0:01.5); got {text!r}")
    return name.strip("'"), lag_s


def described(one: Alignment, setup: str) -> str:
    """Where a setup's recording lies, in a sentence."""
    if one.silent:
        return one.silence("the first recording", setup)
    if one.best is None or not (one.settled or one.ambiguous):
        alike = 0.0 if one.best is None else max(one.best.coherence, 0.0)
        return (
            f"{setup} does not hold the same performance as the first recording (coherence {alike:.2f}), not even in a "
            f"piece of {LONE_S:g} s"
        )
    if one.pieces:
        return _in_pieces(one, setup)
    where = _where(one.best)
    what = f"{setup} {where} (coherence {one.best.coherence:.2f} of 1)"
    if not one.shown:
        return f"{what}; single tones fit at every period: nothing shows its lag closer than about 0.1 s"
    if one.next_best is None:
        return f"{what}; no other place comes near"
    rival = f"{one.next_best.lag_s:+.3f} s"
    if one.ambiguous:
        return f"{what}, or {rival}, which fits as well: choose with track align --lag {setup}=SECONDS"
    return f"{what}; next best {rival} (coherence {one.next_best.coherence:.2f})" + (
        " (chosen by hand)" if one.chosen else ""
    )


def _where(line: Fit) -> str:
    return f"lies {_late(line.lag_s)}{_clock(line.ppm)}"


def _piece(piece: Piece) -> str:
    """Where a piece lies: at both its ends, where its clock moves it."""
    starts, ends = (_late(piece.lag_at(time_s)) for time_s in (piece.start_s, piece.end_s))
    if starts == ends:
        return f" it lies {starts}{_clock(piece.ppm)}"
    return f": at its beginning it lies {starts}, at its end {ends}{_clock(piece.ppm)}"


def _late(lag_s: float) -> str:
    if abs(lag_s) < IN_PLACE_S:
        return "at the same place"
    return f"{abs(lag_s):.4f} s {'late' if lag_s >= 0 else 'early'}"


def _clock(ppm: float) -> str:
    return f", its clock {ppm:+.1f} ppm off" if abs(ppm) >= CLOCK_PPM else ""


def _in_pieces(one: Alignment, setup: str) -> str:
    """Which pieces of a track a recording holds, where each lies, and what is between them."""
    told = [
        f"from {track_time.told(each.start_s, 1)} to {track_time.told(each.end_s, 1)}{_piece(each)} (coherence "
        f"{each.coherence:.2f})"
        for each in one.pieces
    ]
    between = [_cut(before, after) for before, after in pairwise(one.pieces)]
    what = "; ".join(between) if between else "the rest does not fit"
    return f"{setup} does not run with the first recording in one piece: {what}; {'; '.join(told)}"


def _cut(before: Piece, after: Piece) -> str:
    """What lies between two pieces."""
    when = track_time.told(before.end_s, 1)
    more_s = after.lag_at(after.start_s) - before.lag_at(before.end_s)
    lacks_s = max(0.0, -more_s)
    if after.start_s - before.end_s > lacks_s + UNLIKE_S:
        return f"from {when} to {track_time.told(after.start_s, 1)} it holds something else"
    if abs(more_s) >= CUT_S:
        return f"at {when} it {'has' if more_s > 0 else 'lacks'} {abs(more_s):.3f} s{' more' if more_s > 0 else ''}"
    return f"at {when} its clock changes"


def document_of(one: Alignment) -> dict[str, Any]:
    """An alignment as it is printed for programs: every `lag_s` holds at `lag_at_s` of the track, on its line."""
    pieces = [
        documents.plain(each) | {"start_lag_s": each.lag_at(each.start_s), "end_lag_s": each.lag_at(each.end_s)}
        for each in one.pieces
    ]
    return one.to_document() | {"pieces": pieces, "lag_at_s": 0.0, "ambiguous": one.ambiguous}
