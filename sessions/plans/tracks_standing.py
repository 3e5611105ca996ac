"""The tracks of which nothing is played, each with why: no passage yet, a choice that waits, another performance.

It gathers and prints nothing. What loads arithmetic is loaded only where a recording was not laid.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from ..casebook.catalogue import Passage, Track
from ..casebook.store import Casebook
from .plan_rows import Draft, PlanSummary
from .standings import UnlikeStanding, UnplannedStanding


def without_passage(
    tracks: Sequence[Track],
    passages: Sequence[Passage],
    files: Mapping[str | None, Collection[str]],
    unlike: Sequence[UnlikeStanding],
) -> tuple[str, ...]:
    """The tracks that two setups hold and no passage is of; none as long as there is no passage at all.

    `files` are the tracks by setup (None: the music itself). A track of `unlike` recordings is none of them.
    """
    played = {passage.track_id for passage in passages}
    refused = {one.track for one in unlike}
    holders = Counter(track for setup, own in files.items() if setup is not None for track in own)
    return tuple(
        one.name
        for one in tracks
        if played and one.id not in played and holders[one.id] > 1 and one.name not in refused
    )


def unplanned(
    passages: Sequence[Passage], tracks: Mapping[str, str], drafts: Sequence[Draft], sealed: Sequence[PlanSummary]
) -> tuple[UnplannedStanding, ...]:
    """The passages that no draft and no plan plays, where a plan is sealed; tracks' names by identifier.

    `sealed` are the plans that were not given up, the newest last.
    """
    drafted = [one.wish.passages for one in drafts]
    if not sealed or not all(drafted):  # a draft that names none plays all
        return ()
    played = {passage["passage"] for one in sealed for passage in one.passages}.union(*drafted)
    left = [one for one in passages if played.isdisjoint({one.id, one.name})]
    heard = {one.track_id for one in passages if not played.isdisjoint({one.id, one.name})} if left else set()
    newest = sealed[-1]
    who = tuple(one["name"] for one in newest.listeners)
    return tuple(
        UnplannedStanding(one.name, tracks[one.track_id], newest.name, newest.method, who, one.track_id in heard)
        for one in left
    )


def unlaid(casebook: Casebook) -> set[str]:
    """The tracks, by identifier, of which a recording does not lie anywhere yet: where it does is not settled."""
    return {
        row["track_id"]
        for row in casebook.query(
            "SELECT track_id FROM alignments JOIN recordings ON recordings.id = alignments.recording "
            "WHERE json_extract(alignments.document, '$.settled') = 0 "
            "AND alignments.seq IN (SELECT max(seq) FROM alignments GROUP BY recording)"
        )
    }


def unplaced(casebook: Casebook, tracks: Sequence[Track]) -> tuple[str, ...]:
    """Those of the unlaid tracks in which somebody must choose where a recording lies."""
    if not tracks:
        return ()
    from ..preparation import track_alignment  # loads arithmetic

    return tuple(track.name for track in tracks if track_alignment.questions(casebook, track))


def unlike(casebook: Casebook, tracks: Sequence[Track], setups: Mapping[str, str]) -> tuple[UnlikeStanding, ...]:
    """Recordings of unlaid tracks that cannot be compared with the track's first one; setups' names by identifier."""
    if not tracks:
        return ()
    from ..casebook import alignments, recordings  # loads arithmetic

    found = []
    for track in tracks:
        files = recordings.of_track(casebook, track)
        called = {each.id: setups[each.setup_id] for each in files if each.setup_id is not None}
        for own, laid in alignments.in_force(casebook, files).items():
            if laid.settled or laid.ambiguous or own not in called:
                continue
            against = called.get(laid.reference, "the first recording")
            alike = 0.0 if laid.best is None else max(laid.best.coherence, 0.0)
            why = laid.silence(against, called[own]) or (
                f"{called[own]} does not hold the same performance as {against} (coherence {alike:.2f})"
            )
            found.append(UnlikeStanding(track.name, why))
    return tuple(found)
