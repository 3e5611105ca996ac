"""Where recordings lie, put into words; and what is asked where one fits at two places as well."""

from __future__ import annotations

import sys
from collections.abc import Collection, Sequence
from itertools import pairwise
from typing import Any

import click

from audio import track_time
from audio.alignment.one_lag import Fit
from audio.alignment.pieces import Piece
from audio.alignment.track import LONE_S, told_apart
from audio.track_time import seconds

from ..casebook import alignments, catalogue, documents, recordings
from ..casebook.alignments import LEAST_S, Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import track_alignment
from ..preparation.track_alignment import Question
from .context import say

CUT_S = 0.002  # pieces whose lags differ by less where they meet differ by their clocks
UNLIKE_S = 1.0  # between two pieces, beyond what a cut explains
IN_PLACE_S, CLOCK_PPM = 0.00005, 0.05  # nearer, four decimals and one show none
SURE = 3.1  # the median scatter of twelve places on a line, times this, is how sure the line's rise over them is (95 %)
MOST_CHOICES = 9
COHERENCE = "Coherence is how alike the two recordings are there: 1 = the same, 0 = nothing in common."


def settle(casebook: Casebook, tracks: Sequence[Track], hint: str, as_json: bool) -> None:
    """Ask where recordings of these tracks lie that fit at several lags as well, or say how to choose later."""
    for asked in (one for track in tracks for one in track_alignment.questions(casebook, track)):
        lag_s = answer(asked, as_json)
        if lag_s is None:
            say(f"{asked.sentence}; choose: {track_alignment.how_to_choose(asked, hint)}", as_json)
        else:
            music, setup = catalogue.find(casebook, Track, asked.track), catalogue.find(casebook, Setup, asked.setup)
            track_alignment.choose(casebook, music, setup, lag_s)


def answer(asked: Question, as_json: bool) -> float | None:
    """The lag that somebody at the terminal chooses, in seconds; None where nobody is there, or knows."""
    if not sys.stdin.isatty():
        return None
    lags_s = asked.lags_s[:MOST_CHOICES]
    say(f"{asked.track!r}: the music repeats itself, and {asked.setup} fits as well at each of these places:", as_json)
    for number, lag_s in enumerate(lags_s, 1):
        say(f"  {number}: {_begins(asked.setup, lag_s)}", as_json)
    more = asked.more(MOST_CHOICES)
    if more:
        say(f"  ({more}: answer 0, and say it with --lag)", as_json)
    say(
        "Listen to the first seconds of both recordings, and to the last: what sounds there only once tells how much "
        "of the beginning one of them lacks.",
        as_json,
    )

    def number_of(text: str) -> int:
        if not text.strip().isdecimal() or not 0 <= int(text) <= len(lags_s):
            raise click.UsageError(f"type a number from 1 to {len(lags_s)}, or 0 to leave this track out for now")
        return int(text)

    question = f"Which one? 1 to {len(lags_s)}, or 0 to leave it out for now"
    number = click.prompt(question, value_proc=number_of, err=as_json)
    return (None, *lags_s)[number]


def _begins(setup: str, lag_s: float) -> str:
    if abs(lag_s) < IN_PLACE_S:
        return f"{setup} begins at the same place"
    what = "lacks the first" if lag_s < 0 else "has before it another"
    sense = "earlier" if lag_s < 0 else "later"
    return f"the music comes {track_time.lasting(lag_s)} {sense} in {setup} ({what} {track_time.lasting(lag_s)})"


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


def described(one: Alignment, track: str, setup: str, hint: str) -> str:
    """Where a setup's recording of a track lies, in a sentence; `hint` is how a command names the casebook."""
    if one.silent:
        return one.silence("the first recording", setup)
    if one.best is None or not (one.settled or one.ambiguous):
        alike = 0.0 if one.best is None else max(one.best.coherence, 0.0)
        return (
            f"{setup} does not hold the same performance as the first recording, or not at its speed "
            f"(coherence {alike:.2f}), not even in a piece of {LONE_S:g} s"
        )
    if one.pieces:
        return _in_pieces(one, setup)
    asked = track_alignment.question(track, setup, one)
    if asked is not None:
        return f"{asked.sentence} (coherence {one.best.coherence:.2f}); choose: " + track_alignment.how_to_choose(
            asked, hint
        )
    by_hand = "chosen by hand; " if one.chosen else ""
    what = f"{setup} {_where(one.best)} ({by_hand}coherence {one.best.coherence:.2f})"
    if not one.shown:
        return f"{what}; single tones fit at every period: nothing shows its lag closer than about 0.1 s"
    if one.hidden:
        return f"{what}; rooms louder than the direct sound hide where it begins: it may lie up to some 20 ms elsewhere"
    if one.next_best is None:
        return f"{what}; no other place comes near"
    return f"{what}; {_rival(one.best, one.next_best, len(one.equals))}"


def in_place(one: Alignment) -> bool:
    """Whether there is nothing to say of a recording but that it lies where the first one does, and so surely."""
    best = one.best
    if best is None or one.silent or one.pieces or one.chosen or one.ambiguous or not (one.settled and one.shown):
        return False
    if one.hidden:
        return False
    if abs(best.lag_s) >= IN_PLACE_S or _clock(best):
        return False
    return one.next_best is None or told_apart(best, one.next_best) == "coherence"


def cut_so(casebook: Casebook, passages: Collection[str], before: int | None = None) -> list[str]:
    """How recordings that do not lie where their track's first one does were cut for passages, by identifier.

    `before` is the row of what was prepared; None: it is done now.
    """
    own = {one.track_id for one in catalogue.everything(casebook, Passage) if one.id in passages}
    told, setups = [], catalogue.names(casebook, Setup)
    for track in (one for one in catalogue.everything(casebook, Track) if one.id in own):
        files = {one.id: one for one in recordings.of_track(casebook, track) if one.setup_id in setups}
        for recording, laid in alignments.in_force(casebook, files.values(), before).items():
            best, setup = laid.best, setups[files[recording].setup_id or ""]
            if laid.pieces:
                told.append(
                    f"in step: {setup} does not hold {track.name} in one piece; each passage is cut where it lies"
                )
            elif laid.settled and best is not None and (abs(best.lag_s) >= IN_PLACE_S or _clock(best)):
                told.append(f"in step: {track.name} of {setup} {_where(best)}, and is cut so")
    return told


def _rival(best: Fit, other: Fit, equals: int) -> str:
    """What there is to say of the lag that fits next best, and of how it is told from the best."""
    place = track_time.aside(other.lag_s)
    at = place if place.startswith("at ") else f"at {place}"
    apart = told_apart(best, other)
    if apart is None:
        others = f"{equals - 1} other place{'s' if equals > 2 else ''}"
        return f"it fits as well {at}" + (f" and at {others}" if equals > 1 else "")
    if apart == "coherence":
        return f"next best {place} (coherence {other.coherence:.2f})"
    if apart == "ends":
        return f"the music repeats itself and is as alike {at}, but only here do the beginnings and the ends fit"
    silent = f"{other.missing_s - best.missing_s:.1f} s more of it would meet silence"
    return f"the music repeats itself and is as alike {at}, but there {silent}"


def _where(line: Fit) -> str:
    clock = _clock(line)
    return f"lies {_late(line.lag_s)}{' where the track begins' if clock else ''}{clock}"


def _piece(piece: Piece) -> str:
    """Where a piece lies: at both its ends, where its clock moves it."""
    starts, ends = (_late(piece.lag_at(time_s)) for time_s in (piece.start_s, piece.end_s))
    if starts == ends:
        return f" it lies {starts}{_clock(piece)}"
    return f": at its beginning it lies {starts}, at its end {ends}{_clock(piece)}"


def _late(lag_s: float) -> str:
    if abs(lag_s) < IN_PLACE_S:
        return "at the same place"
    return f"{track_time.lasting(lag_s)} {'late' if lag_s >= 0 else 'early'}"


def _clock(line: Fit | Piece) -> str:
    """How far a clock is off, if by more than is unsure, and by more than a frame over the recording."""
    over_s = line.end_s - line.start_s if isinstance(line, Piece) else line.over_s
    unsure_s = max(LEAST_S, SURE * (line.scatter_s or 0.0))
    sure = abs(line.ppm) >= CLOCK_PPM and (over_s is None or abs(1e-6 * line.ppm * over_s) > unsure_s)
    return f", its clock {line.ppm:+.1f} ppm off" if sure else ""


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
        length = track_time.lasting(more_s)
        return f"at {when} it {f'has {length} more' if more_s > 0 else f'lacks {length}'}"
    return f"at {when} its clock changes"


def document_of(one: Alignment) -> dict[str, Any]:
    """An alignment as it is printed for programs: every `lag_s` holds at `lag_at_s` of the track, on its line."""
    pieces = [
        documents.plain(each) | {"start_lag_s": each.lag_at(each.start_s), "end_lag_s": each.lag_at(each.end_s)}
        for each in one.pieces
    ]
    return one.to_document() | {"pieces": pieces, "lag_at_s": 0.0, "ambiguous": one.ambiguous}
