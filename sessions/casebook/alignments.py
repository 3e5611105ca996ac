"""Alignments: where each recording of a track lies against the first one, kept as evidence.

The one module that reads and writes them. The newest of a recording is in force; one that somebody chose, where two
lags fitted as well, is newer than the one that was found. A track's time is that of its first recording.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from audio import track_time
from audio.alignment import coherence
from audio.alignment.one_lag import Fit
from audio.alignment.pieces import Piece
from audio.alignment.track import EQUAL_S, TrackAlignment
from audio.mend import MOST_STRETCH_PPM, Mend

from . import documents
from .recordings import Recording
from .store import Casebook

SLACK_S = 0.005  # passages are faded in and out over it
LEAST_S = 20e-6  # an offset of less than a frame at 48 kHz is left as it is, and a drift that gathers less


@dataclass(frozen=True)
class Alignment:
    """Where a recording lies against the first one of its track (both by identifier, with their files' hashes).

    Attributes
    ----------
    best
        The lag in force; None where nothing in the two is alike.
    next_best
        The lag that fits next best; None if no other comes near.
    next_worse
        By how much less coherent the next best is.
    certainty
        That as a share of the best's coherence, 0 to 1; 0 where both fit as well.
    settled
        Whether the lag can be used: both hold the same performance, and no other lag fits as well, or one was chosen.
    chosen
        Whether somebody chose it.
    pieces
        Where no one lag holds throughout (a cut, another clock from some moment on): the stretches of the track that
        the recording does hold, each with its own lag and clock. None where `best` holds for all of it.
    shown
        Whether anything shows the lag closely; not where single tones are all that sounds.
    hidden
        Whether rooms hide the direct sound, so that the lag may be that of an echo.
    silent
        Which of the two, by identifier, are silent, so that there is nothing to lay.
    equals
        Where another lag fits as well as the best, all at which the music does, also those at which some of it meets
        silence; older casebooks kept fewer of them, or `next_best` alone.
    """

    reference: str
    recording: str
    reference_sha256: str
    recording_sha256: str
    best: Fit | None
    next_best: Fit | None
    next_worse: float
    certainty: float
    settled: bool
    chosen: bool = False
    pieces: tuple[Piece, ...] = ()
    shown: bool = True
    equals: tuple[Fit, ...] = ()
    silent: tuple[str, ...] = ()
    hidden: bool = False

    def silence(self, reference: str, own: str) -> str:
        """That one of them or both are silent, by what they are called; empty where none is."""
        names = {self.reference: reference, self.recording: own}
        who = [name for one, name in names.items() if one in self.silent]
        return (
            f"{' and '.join(who)} {'is' if len(who) == 1 else 'are'} silent: there is nothing to compare" if who else ""
        )

    def to_document(self) -> dict[str, Any]:
        """It as it is kept; what is silent or hidden only where something is."""
        stated: dict[str, Any] = documents.plain(self)
        return {key: value for key, value in stated.items() if value or key not in ("silent", "hidden")}

    @property
    def ambiguous(self) -> bool:
        """Whether two lags fit as well and nobody has chosen yet."""
        if self.best is None or self.next_best is None or self.settled:
            return False
        return self.best.coherence >= coherence.SAME

    @property
    def fits(self) -> list[Fit]:
        """The lags that are known to fit, those first that leave least of either recording alone, then the nearest."""
        known = {fit.lag_s: fit for fit in (self.best, self.next_best, *self.equals) if fit}
        return sorted(known.values(), key=lambda fit: (round(fit.beyond_s / EQUAL_S), abs(fit.lag_s)))

    def part(self, start_s: float, length_s: float) -> Piece | None:
        """The piece that a stretch of the track is read by; None where one lag holds throughout."""
        line = self._line(start_s, length_s)
        return line if isinstance(line, Piece) else None

    def mend(self, start_s: float, length_s: float) -> Mend:
        """What brings a stretch of the track, as the recording holds it, to the track's time; none where unsettled."""
        line = self._line(start_s, length_s)
        if line is None:
            return Mend()
        least_s = max(LEAST_S, line.scatter_s or 0.0)  # of twelve places the scatter is the line's uncertainty, at 95 %
        drifts = abs(1e-6 * line.ppm * length_s) > least_s and abs(line.ppm) <= MOST_STRETCH_PPM
        late_s = line.lag_at(start_s if drifts else start_s + length_s / 2)
        moved = drifts or abs(late_s) > least_s
        return Mend(delay_s=late_s if moved else 0.0, stretch_ppm=line.ppm if drifts else 0.0)

    def lag_at(self, time_s: float) -> float:
        """How late the recording is at a moment of the track, in seconds; 0 where that is not settled."""
        line = self._line(time_s, 0.0)
        return 0.0 if line is None else line.lag_at(time_s)

    def across(self, start_s: float, end_s: float) -> str:
        """What a stretch of the track runs across, as a sentence's end; empty where one piece holds it."""
        if not self.pieces or any(
            piece.start_s - SLACK_S <= start_s and end_s <= piece.end_s + SLACK_S for piece in self.pieces
        ):
            return ""
        held = " and ".join(
            f"from {track_time.told(piece.start_s, 1)} to {track_time.told(piece.end_s, 1)}" for piece in self.pieces
        )
        return f"it runs with the track's first recording {held}; choose a stretch within one of these"

    def _line(self, start_s: float, length_s: float) -> Fit | Piece | None:
        """The lag and clock of a stretch: those of the piece that holds most of it."""
        if self.best is None or not self.settled:
            return None
        end_s = start_s + length_s
        return max(self.pieces, key=lambda each: min(end_s, each.end_s) - max(start_s, each.start_s), default=self.best)


def found(
    reference: Recording, recording: Recording, laid: TrackAlignment | None, silent: tuple[str, ...] = ()
) -> Alignment:
    """What was found of two recordings, as it is kept; None if nothing in them is alike, as where some are silent."""
    both = (reference.id, recording.id, reference.sha256, recording.sha256)
    if laid is None:
        return Alignment(*both, None, None, 0.0, 0.0, settled=False, silent=silent)
    certainty = 0.0
    if laid.found and not laid.ambiguous:
        certainty = min(max(laid.next_worse / laid.best.coherence, 0.01), 1.0)
    return Alignment(
        *both,
        laid.best,
        laid.next_best,
        laid.next_worse,
        certainty,
        settled=certainty > 0,
        pieces=laid.pieces,
        shown=laid.shown,
        equals=laid.equals,
        hidden=laid.hidden,
    )


def keep(casebook: Casebook, made: Iterable[Alignment]) -> None:
    """Keep alignments."""
    for one in made:
        text = documents.text_of(one.to_document(), sort_keys=False)
        content = {"reference": one.reference, "recording": one.recording, "document": text}
        casebook.append("alignments", "alignment", content)


def in_force(casebook: Casebook, recordings: Iterable[Recording], before: int | None = None) -> dict[str, Alignment]:
    """The newest alignment of each of these recordings that has one, by the recordings' identifiers.

    `before` is a row of the chain: what was in force when it was written; None: what is now.
    """
    wanted = {recording.id for recording in recordings}
    rows = casebook.query(
        "SELECT recording, document FROM alignments WHERE :before IS NULL OR seq < :before ORDER BY seq",
        {"before": before},
    )
    newest = {row["recording"]: row["document"] for row in rows if row["recording"] in wanted}
    return {recording: documents.from_text(text, Alignment) for recording, text in newest.items()}
