"""The way from pairs of recordings to what will be played of them, in as many processes as there are cores.

Nothing is kept here: `two_folders` keeps what came of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

from audio import pairing, parallel
from audio.alignment import coherence
from audio.alignment.track import LONE_S
from audio.errors import AudioError, ProcessError

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.left_out import LeftOut
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import track_alignment, track_pair
from ..preparation.proposed_passage import LookedThrough, ProposedPassage
from ..preparation.recording_folder import track_name
from ..preparation.track_alignment import Question
from ..preparation.track_pair import Looked, NewPair, PassageOfPair, Prepared, TrackPair

T = TypeVar("T")
R = TypeVar("R")
MOST_PASSAGES = 6  # enough variety for an evening, few enough to know each of them

Proposals = Callable[[], LookedThrough]
Choose = Callable[[Question], float | None]
"""Answers at which of several lags a recording lies, in seconds; None: nobody can say, and the pair is left out."""


@dataclass(frozen=True)
class Played:
    """A proposal, the passage that it has become, and what was prepared of it."""

    proposal: ProposedPassage
    passage: Passage
    prepared: Prepared


@dataclass(frozen=True)
class PairWork:
    """The way from pairs to what will be played: each step of each track is begun as soon as what it needs is there.

    Results are taken in the order in which one process would have come to them, so that they are the same.
    """

    casebook: Casebook
    setups: tuple[Setup, Setup]
    around_s: Mapping[str, Sequence[float]]
    lags_s: Mapping[str, float]
    choose: Choose
    again: str
    progress: Callable[[str], None]
    submit: parallel.Submit
    left_out: list[LeftOut]
    polarity: bool = False
    begun: dict[ProposedPassage, Callable[[], Played]] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)

    def laid(self, pairs: Sequence[pairing.Pair]) -> list[tuple[TrackPair, Proposals]]:
        """The pairs that can be compared, laid against one another, and their proposals, which are on their way."""
        looking = [(pair, self._begin(self._look, pair)) for pair in pairs]
        all_played = len(pairs) + sum(map(len, self.around_s.values())) <= MOST_PASSAGES

        def look(one: tuple[pairing.Pair, Callable[[], Looked]]) -> tuple[TrackPair, Proposals]:
            pair, looked_at = one
            self.progress(
                f"track {looking.index(one) + 1} of {len(looking)}: laying the recordings of {pair.name} against one "
                "another, and looking where they differ …"
            )
            looked = looked_at()
            said_s = self.lags_s.get(looked.pair.track.name)
            if looked.pair.laid.settled:
                if said_s is not None:
                    track_alignment.chosen(looked.pair.laid, said_s, looked.pair.paths)
                assert looked.through is not None  # settled
                if all_played and isinstance(looked.through, LookedThrough):
                    self._begin_playing([(looked.pair, part) for part in looked.through.passages])
                return looked.pair, partial(_given, looked.through)
            track = settled(looked.pair, pair, self.choose if said_s is None else lambda _: said_s, self.again)
            return track, self.submit(track_pair.proposals, (track, self._moments(track.track)))

        return self._fitting(looking, lambda one: one[0].name, look)

    def played(
        self, tracks: Sequence[tuple[TrackPair, Proposals]], is_clean: Callable[[Played], bool] = lambda _: True
    ) -> list[Played]:
        """The first of the proposals that can be played, mended, matched and checked.

        `MOST_PASSAGES` of them or, with as many marked, one more than those: both kinds are heard. Where some are not
        clean, further ones take their places, of tracks first that none of these is of; where none is, it is something
        about the setups, and nothing further is looked at.
        """

        def propose(both: tuple[TrackPair, Proposals]) -> list[tuple[TrackPair, ProposedPassage]]:
            track, proposed = both
            through = proposed()
            lacking = track.lacking(self._moments(track.track))  # the rest of the track is good without them
            self.left_out.extend(
                LeftOut(track.track.name, why, whole=False) for why in (*lacking.values(), *through.silences)
            )
            return [(track, part) for part in through.passages]

        found = self._fitting(tracks, lambda both: both[0].track.name, propose)
        parts = _spread([each for one in found for each in one])
        most = max(MOST_PASSAGES, 1 + sum(bool(part.marks_s) for _, part in parts))

        def play(each: tuple[TrackPair, ProposedPassage]) -> Played:
            number = len(played) + next_ones.index(each) + 1
            name = each[0].track.name
            self.progress(f"passage {number} of {total}: mending, matching and checking that of {name} …")
            return self.begun[each[1]]()

        played: list[Played] = []
        next_ones: list[tuple[TrackPair, ProposedPassage]] = []
        total = min(most, len(parts))
        clean = 0
        while parts and (wanted := most - clean) > 0:
            next_ones, parts = parts[:wanted], parts[wanted:]
            total = min(len(played) + wanted, len(played) + len(next_ones) + len(parts))
            self._begin_playing(next_ones)
            played += self._fitting(next_ones, lambda each: each[0].track.name, play)
            poor = [one for one in played if not is_clean(one)]
            clean = len(played) - len(poor)
            if played and not clean:
                break
            telling = {one.proposal.track.id for one in poor}
            parts.sort(key=lambda each: each[0].track.id in telling)
        return played

    def _look(self, pair: pairing.Pair) -> Callable[[], Looked]:
        track = catalogue.new_track(self.casebook, track_name(pair.a))
        one, other = (
            recordings.announced(self.casebook, setup, track, path)
            for setup, path in zip(self.setups, (pair.a, pair.b), strict=True)
        )
        return self.submit(track_pair.looked_at, NewPair(track, self.setups, (one, other), self._moments(track)))

    def _moments(self, track: Track) -> tuple[float, ...]:
        return tuple(self.around_s.get(track.name, ()))

    def _begin_playing(self, parts: Sequence[tuple[TrackPair, ProposedPassage]]) -> None:
        for track, part in parts:
            if part not in self.begun:
                self.begun[part] = self._begin(self._play, (track, part))

    def _play(self, each: tuple[TrackPair, ProposedPassage]) -> Callable[[], Played]:
        track, part = each
        passage = track.named(self.casebook, part, self.names)
        self.names.append(passage.name)
        prepared = self.submit(
            track_pair.prepared, PassageOfPair(track, passage, self.casebook.prepared, self.polarity)
        )
        return lambda: Played(part, passage, prepared())

    def _begin(self, work: Callable[[T], Callable[[], R]], thing: T) -> Callable[[], R]:
        """Begin some work; what cannot even be begun is said when it is asked for what came of it."""
        try:
            return work(thing)
        except (AudioError, CatalogueError) as error:
            return partial(_given, error)

    def _fitting(self, things: Iterable[T], name: Callable[[T], str], work: Callable[[T], R]) -> list[R]:
        """What comes of each thing; those that cannot be used are left out, each with its reason."""
        done = []
        for one in things:
            try:
                done.append(work(one))
            except ProcessError:
                raise
            except (AudioError, CatalogueError) as error:
                self.left_out.append(LeftOut(name(one), str(error)))
        return done


def _spread(parts: Sequence[tuple[TrackPair, ProposedPassage]]) -> list[tuple[TrackPair, ProposedPassage]]:
    """The tracks' proposals in the order in which they are taken.

    The marked ones first; then what differs most, of tracks without a mark before others: no track takes all.
    """
    marked = [each for each in parts if each[1].marks_s]
    told = {part.track.id for _, part in marked}
    others = sorted(
        (each for each in parts if not each[1].marks_s),
        key=lambda each: (each[1].track.id in told, -each[1].difference_sone),
    )
    return marked + others


def _given(answer: R | Exception) -> R:
    if isinstance(answer, Exception):
        raise answer
    return answer


def settled(track: TrackPair, pair: pairing.Pair, choose: Choose, again: str) -> TrackPair:
    """A pair that fits at several lags as well, with the one that was chosen.

    Raises
    ------
    CatalogueError
        If none was, or they hold other performances.
    """
    laid = track.laid
    asked = track_alignment.question(track.track.name, track.sources[1].setup.name, laid)
    if asked is not None:
        lag_s = choose(asked)
        if lag_s is None:
            raise CatalogueError(f"{asked.sentence}; choose: {again} {asked.options(asked.track)}")
        laid = track_alignment.chosen(laid, lag_s, track.paths)
    if laid.silent:
        raise CatalogueError(laid.silence(*(source.setup.name for source in track.sources)))
    if not laid.settled:
        alike = 0.0 if laid.best is None else max(laid.best.coherence, 0.0)
        raise CatalogueError(
            f"{pair.a} and {pair.b} do not hold the same performance, or not at one speed (coherence {alike:.2f}, at "
            f"least {coherence.SAME:.2f} expected), not even in a piece of {LONE_S:g} s; bring recordings of one take, "
            "at one speed"
        )
    return replace(track, laid=laid)
