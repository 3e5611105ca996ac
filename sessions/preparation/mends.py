"""Mends: the repairs of single passages of single setups, found by inspection and kept with their reasons.

The one module that reads and writes them. A new mend of the same passage and setup replaces the one before.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audio import track_time
from audio.clip import Clip
from audio.giveaways.repair import is_mended, propose
from audio.mend import Mend

from ..casebook import alignments, catalogue, documents, recordings
from ..casebook.alignments import Alignment
from ..casebook.catalogue import Passage, Setup, Track
from ..casebook.store import Casebook
from . import passage_audio, track_alignment
from .passage_audio import NO_MEND, Source
from .selection import Selection, check_recordings

STILL_PPM = 0.05  # of a clock: less is told as none, so that where a recording lies needs no moment
ELSEWHERE_S = 0.05  # a mend so far from where the whole tracks lie is of another place in the music


@dataclass(frozen=True)
class PassageMend:
    """The mend of one passage of one setup, and why; `setup` and `passage` are the names."""

    setup_id: str
    setup: str
    passage_id: str
    passage: str
    mend: Mend
    why: str

    @property
    def done(self) -> str:
        """What was done, in words."""
        return ", ".join(in_words(self.mend)) or "length"

    def to_document(self) -> dict[str, Any]:
        """The mend as the command line prints it."""
        names = {"setup": self.setup, "passage": self.passage, "why": self.why}
        mended: dict[str, Any] = documents.plain(self.mend)
        return names | mended


def in_words(mend: Mend) -> list[str]:
    """What a mend does, a part each."""
    parts = []
    if mend.delay_s:
        parts.append(f"cut {track_time.lasting(mend.delay_s)} {'later' if mend.delay_s > 0 else 'earlier'}")
    if mend.stretch_ppm:
        parts.append(f"clock corrected by {mend.stretch_ppm:+.1f} ppm")
    if mend.rate_hz:
        parts.append(f"every setup brought to {mend.rate_hz} Hz")
    if mend.invert:
        parts.append("polarity turned round")
    if mend.high_pass_hz:
        parts.append(f"high-passed at {mend.high_pass_hz:g} Hz (second order) like every setup")
    return parts


def mend(casebook: Casebook, selection: Selection, *, polarity: bool = False) -> list[PassageMend]:
    """Repair what can be repaired (offset, drift, length, rate, DC; polarity on request), and keep what was done.

    Offsets and drifts are repaired whenever they are found, also below the limits from which they are giveaways.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    """
    check_recordings(selection, "mending")
    track_alignment.ensure(casebook, [passage.track_id for passage in selection.passages])
    found: list[PassageMend] = []
    for passage in selection.passages:
        sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
        repairs = in_force(casebook, selection.setups, passage)
        kept = _kept(casebook, passage)
        noted = [setup for setup, repair in repairs.items() if kept.get(setup) == repair]
        laid = alignments.in_force(casebook, [source.recording for source in sources])
        found += needed(passage, sources, repairs, polarity=polarity, noted=noted, laid=laid)
    keep(casebook, found)
    return found


def needed(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    *,
    polarity: bool = False,
    noted: Collection[str] = (),
    clips: Mapping[str, Clip] | None = None,
    laid: Mapping[str, Alignment],
) -> list[PassageMend]:
    """The mends of a passage that go beyond those in force, or are not noted yet; they replace them.

    Parameters
    ----------
    repairs
        Those in force, by the setups' identifiers.
    noted
        The setups whose mend in force is a mend of this passage already, and not only where the whole recording lies.
    clips
        The passage as it is cut with those in force, by the setups' names, where it is cut already.
    laid
        Where the recordings lie in the track, by identifier.
    """
    clips = passage_audio.cut(sources, passage, repairs) if clips is None else clips
    findings = passage_audio.to_be_mended(passage, sources, repairs, clips)
    repaired = propose(findings, polarity=polarity, setups=[source.setup.name for source in sources])
    filtered = [one.what for one in findings if one.mend is not None and one.mend.high_pass_hz is not None]
    found = []
    for setup, recording in ((source.setup, source.recording) for source in sources):
        before = repairs.get(setup.id, NO_MEND)
        new = before != NO_MEND and setup.id not in noted
        if setup.name in repaired or new:
            why = [_place(setup, passage, before, laid.get(recording.id))] if new else []
            why += [one.what for one in findings if one.setup == setup.name and is_mended(one, polarity=polarity)]
            why += [what for what in filtered if what not in why]
            mended = before.then(repaired.get(setup.name, NO_MEND))
            found.append(PassageMend(setup.id, setup.name, passage.id, passage.name, mended, "; ".join(why)))
    return found


def _place(setup: Setup, passage: Passage, repair: Mend, laid: Alignment | None) -> str:
    """Where a setup's recording lies on a passage, and by what that is known: all of it, or the part between cuts."""
    start_s, length_s = passage.start_frame / passage.rate_hz, passage.frames / passage.rate_hz
    piece = laid.part(start_s, length_s) if laid else None
    by = "its whole recording"
    if laid and piece:
        begin, end = (track_time.told(each, 1) for each in (piece.start_s, piece.end_s))
        by = f"the part of it from {begin} {'on' if piece == laid.pieces[-1] else f'to {end}'}"
    late = f"{track_time.lasting(repair.delay_s)} {'late' if repair.delay_s >= 0 else 'early'}"
    line = piece or (laid.best if laid else None)
    drifts = line is not None and abs(line.ppm) >= STILL_PPM
    where = " where the passage begins" if repair.stretch_ppm else " in the middle of the passage" if drifts else ""
    return f"by {by} {setup.name} lies {late}{where}"


def keep(casebook: Casebook, found: Sequence[PassageMend]) -> None:
    """Keep mends, all or none of them."""
    with casebook.writing():
        for one in found:
            text = documents.text_of(documents.plain(one.mend), sort_keys=False)
            content = {"setup_id": one.setup_id, "passage_id": one.passage_id, "document": text, "why": one.why}
            casebook.append("mends", "mend", content)


def in_force(casebook: Casebook, setups: Sequence[Setup], passage: Passage) -> dict[str, Mend]:
    """How each of the setups is read on a passage, by the setups' identifiers; none where as it lies in its file.

    By the newest mend of the passage, or else by where its recording lies in the track. A mend that belongs to another
    place in the music (made before the whole tracks were aligned) is left aside. A high-pass that one of the passage's
    mends holds is for every setup, also for those that came later.
    """
    kept = _kept(casebook, passage)
    places = by_tracks(casebook, setups, passage)
    found = {}
    for setup in setups:
        own, place = kept.get(setup.id), places.get(setup.id)
        if own is not None and (place is None or abs(own.delay_s - place.delay_s) <= ELSEWHERE_S):
            found[setup.id] = own
        elif place is not None and place != NO_MEND:
            found[setup.id] = place
    filtered = Mend(high_pass_hz=max((each.high_pass_hz or 0.0 for each in kept.values()), default=0.0) or None)
    return found if filtered == NO_MEND else {each.id: found.get(each.id, NO_MEND).then(filtered) for each in setups}


def _kept(casebook: Casebook, passage: Passage) -> dict[str, Mend]:
    """The newest mend of a passage for each setup that has one, by the setups' identifiers."""
    rows = casebook.query("SELECT setup_id, document FROM mends WHERE passage_id = ? ORDER BY seq", [passage.id])
    return {row["setup_id"]: documents.from_text(row["document"], Mend) for row in rows}


def by_tracks(casebook: Casebook, setups: Sequence[Setup], passage: Passage) -> dict[str, Mend]:
    """How the setups' recordings lie on a passage by the alignment of whole tracks, by the setups' identifiers."""
    track = catalogue.find(casebook, Track, passage.track_id)
    of_setup = {each.setup_id: each for each in recordings.of_track(casebook, track) if each.setup_id is not None}
    laid = alignments.in_force(casebook, of_setup.values())
    start_s, length_s = passage.start_frame / passage.rate_hz, passage.frames / passage.rate_hz
    return {
        setup.id: laid[of_setup[setup.id].id].mend(start_s, length_s)
        for setup in setups
        if setup.id in of_setup and of_setup[setup.id].id in laid and laid[of_setup[setup.id].id].settled
    }


def everything(casebook: Casebook) -> list[PassageMend]:
    """All mends ever made, the oldest first."""
    return [one for _, one in with_rows(casebook)]


def with_rows(casebook: Casebook) -> list[tuple[int, PassageMend]]:
    """The same, each with its row in the record."""
    rows = casebook.query(
        """SELECT mends.*, setups.name AS setup, passages.name AS passage FROM mends JOIN setups ON setups.id = setup_id
           JOIN passages ON passages.id = passage_id ORDER BY mends.seq"""
    )
    return [
        (row["seq"], documents.from_plain(row | {"mend": documents.value_of(row["document"])}, PassageMend))
        for row in rows
    ]
