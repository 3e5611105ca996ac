"""The giveaway check: every cue, but the sound under test, that could name a setup. The one module that writes checks.

What of the kept checks counts for whom is in `plans/checked_pairs`.
"""

from __future__ import annotations

import functools
import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from audio import parallel
from audio.clip import Clip
from audio.files import reading
from audio.giveaways.findings import LIMITS, Finding, finding
from audio.levels.weighting import By
from audio.mend import Mend
from audio.parallel import Submit

from ..casebook import documents
from ..casebook.catalogue import Passage
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import (
    chain_giveaways,
    counted_pairs,
    match_files,
    match_sheet,
    mends,
    passage_audio,
    passage_notes,
    track_alignment,
)
from .check_note import Note
from .match_sheet import MatchedPassage, MatchSheet
from .passage_audio import NO_MEND, Source
from .selection import Selection

USUAL: By = "bs1770"  # what `match files` matches by where nothing is said
POLARITY = "polarity"  # the one kind that is mended on request only
WORD_LENGTH = "format", "bits"  # of the files: nothing of it is played, see `passage_notes`
SOON_S = 60.0  # of pairs: processes take a few seconds to begin, and a pair of 15 s about one


@dataclass(frozen=True)
class Giveaway:
    """One cue beyond its limit, on one passage of one setup; all by the names they had when they were checked.

    `against` is the setup it was compared with. Empty: it shows by itself, or an older check says only that it was
    compared with that check's first setup.
    """

    kind: str
    setup: str
    passage: str
    measured: float
    limit: float
    unit: str
    source: str
    what: str
    mendable: bool
    against: str = ""


@dataclass(frozen=True)
class GiveawayCheck:
    """What was found, and which setups and passages were checked, by identifier.

    `notes` are worth knowing and no giveaways. `every_pair`: any two of the setups were compared; older checks, which
    have only sentences as notes, compared the first with each other. What of it counts for whom: `plans/checked_pairs`.
    """

    findings: tuple[Giveaway, ...]
    setups: tuple[str, ...]
    passages: tuple[str, ...]
    notes: tuple[Note | str, ...] = ()
    every_pair: bool = False

    @property
    def ok(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    @property
    def sentences(self) -> list[str]:
        """The notes as sentences."""
        return [note if isinstance(note, str) else note.what for note in self.notes]

    def to_document(self) -> dict[str, Any]:
        """The check as it is kept."""
        return {"ok": self.ok, **documents.plain(self)}


def check(
    casebook: Casebook,
    selection: Selection,
    *,
    mended: Selection | None = None,
    polarity: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> GiveawayCheck:
    """Look for giveaways in what would be played (raw where nothing is prepared yet), and keep the check.

    Real setups all play the same prepared music; what could give them away is their arrival and their switch.

    Parameters
    ----------
    mended
        What was mended just now (`polarity`: also where it was turned): what is found there all the same is not
        mendable, whatever it is.

    Raises
    ------
    CatalogueError
        If a prepared file is missing, not what its sheet says, or made before a mend; nothing is kept then.
    """
    if not any(setup.is_real for setup in selection.setups):
        track_alignment.ensure(casebook, [passage.track_id for passage in selection.passages])
    kept = match_sheet.newest(casebook, selection)
    sheet = kept.record if kept else None
    found: list[Giveaway] = []
    notes: list[Note] = []
    with parallel.workers(_processes(selection)) as submit:
        for number, passage in enumerate(selection.passages, 1):
            at = f"passage {number} of {len(selection.passages)}, {passage.name}"
            of_passage, noted = _check(
                casebook, selection, passage, sheet, counted_pairs.counted(submit, selection, at, progress)
            )
            found += of_passage
            notes += noted
    done = of_findings(selection, found if mended is None else left(found, mended, polarity), notes)
    keep(casebook, done)
    return done


def _processes(selection: Selection) -> int:
    """How many processes compare a selection's pairs: what is done sooner than processes begin is done here."""
    pairs = len(selection.setups) * (len(selection.setups) - 1) // 2
    if any(setup.is_real for setup in selection.setups):
        return 1
    whole_s = pairs * sum(passage.frames / passage.rate_hz for passage in selection.passages)
    return min(pairs, parallel.cores()) if whole_s > SOON_S else 1


def _check(
    casebook: Casebook, selection: Selection, passage: Passage, sheet: MatchSheet | None, submit: Submit
) -> tuple[list[Giveaway], list[Note]]:
    """What is found in what would be played of a passage, and noted."""
    if any(setup.is_real for setup in selection.setups):
        return _stated(chain_giveaways.chain_findings(selection, passage, sheet)), []
    sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
    repairs = mends.in_force(casebook, selection.setups, passage)
    places = mends.by_tracks(casebook, selection.setups, passage)
    own = match_sheet.newest(casebook, Selection(selection.setups, (passage,)))
    matched = own.record.passage(passage.id) if own else None
    by = match_files.measure_of(sheet)
    found, compared = check_passage(
        passage, sources, repairs, matched, casebook.prepared, by=by, places=places, submit=submit
    )
    clips = compared if matched is None else None
    if clips is None:
        clips = passage_audio.cut(sources, passage, repairs)
    return found, passage_notes.notes_on(passage, sources, clips, submit, played=compared, found=found)


def check_mended(
    casebook: Casebook,
    selection: Selection,
    sheets: Sequence[MatchSheet],
    polarity: bool,
    progress: Callable[[str], None] = lambda _: None,
) -> GiveawayCheck:
    """The checks after a mend of a selection, together: of all that was matched again for it, since plans use that.

    A plan rests on one sheet and on one check after it, so that a new sheet needs a check of everything on it.
    """
    wider = [match_files.still_there(casebook, sheet) for sheet in sheets]
    if not any(_holds(each, selection) for each in wider):
        wider.append(selection)
    done = [check(casebook, each, mended=selection, polarity=polarity, progress=progress) for each in wider]
    whole = Selection(
        tuple({setup.id: setup for each in wider for setup in each.setups}.values()),
        tuple({passage.id: passage for each in wider for passage in each.passages}.values()),
    )
    found = dict.fromkeys(one for each in done for one in each.findings)
    notes = dict.fromkeys(one for each in done for one in each.notes)
    return of_findings(whole, tuple(found), tuple(notes))


def _holds(wider: Selection, narrower: Selection) -> bool:
    return set(narrower.setups) <= set(wider.setups) and set(narrower.passages) <= set(wider.passages)


def left(found: Sequence[Giveaway], mended: Selection, polarity: bool = False) -> list[Giveaway]:
    """The findings, those that a mend has left not mendable; polarity is turned on request only."""
    setups, passages = {one.name for one in mended.setups}, {one.name for one in mended.passages}
    return [
        replace(one, mendable=False)
        if {one.setup, one.against or one.setup} <= setups
        and one.passage in passages
        and (polarity or one.kind != POLARITY)
        else one
        for one in found
    ]


def check_passage(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    matched: MatchedPassage | None,
    folder: Path,
    *,
    by: By = "bs1770",
    places: Mapping[str, Mend] | None = None,
    submit: Submit = functools.partial,
) -> tuple[list[Giveaway], Mapping[str, Clip] | None]:
    """The giveaways in what would be played of a passage: its prepared files, or what would be prepared now.

    Parameters
    ----------
    places
        How the recordings lie on the passage by the alignment of whole tracks, by the setups' identifiers.
    submit
        What takes the pairs of setups as work (see `audio.parallel`).

    Returns
    -------
    list, mapping
        The giveaways; and what was compared, by the setups' names, None where that is not all of them.

    Raises
    ------
    CatalogueError
        If a prepared file is missing, not what its sheet says, or made before a mend.
    """
    found = _elsewhere(passage, sources, repairs, matched, places or {})
    elsewhere = {one.setup for one in found}  # what is prepared is of another place: nothing else of it can be compared
    there = [source for source in sources if source.setup.name not in elsewhere]
    compared = None
    if len(there) > 1:
        compared = _prepared(passage, there, repairs, matched, folder, by) or passage_audio.cut(there, passage, repairs)
        found += passage_audio.inspected(passage, there, repairs, compared, by, submit)
    stated = _stated([one for one in found if (one.kind, one.unit) != WORD_LENGTH])
    return stated, None if elsewhere else compared


def of_findings(selection: Selection, found: Sequence[Giveaway], notes: Sequence[Note | str] = ()) -> GiveawayCheck:
    """The check of a selection in which this was found."""
    setups = tuple(setup.id for setup in selection.setups)
    passages = tuple(passage.id for passage in selection.passages)
    return GiveawayCheck(tuple(found), setups, passages, tuple(notes), every_pair=True)


def keep(casebook: Casebook, done: GiveawayCheck) -> None:
    """Keep a new check."""
    casebook.append("checks", "check", {"document": documents.text_of(done.to_document(), sort_keys=False)})


def _prepared(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    matched: MatchedPassage | None,
    folder: Path,
    by: By,
) -> dict[str, Clip] | None:
    """The prepared files of a passage by the setups' names; None where none were made."""
    if matched is None:
        return None
    files = {file.setup: file for file in matched.prepared.setups}
    own = {source.setup: files[source.setup.id] for source in sources}
    if any(file.mend != repairs.get(setup.id, NO_MEND) for setup, file in own.items()):
        named = " ".join(f"--setup {shlex.quote(setup.name)}" for setup in own)
        raise CatalogueError(
            f"{passage.name!r} was mended after it was matched, and nothing that is played would be checked; match it "
            f"again first: earwitness match files{'' if by == USUAL else f' --by {by}'} {named}"
        )
    paths = {setup.name: folder / file.file for setup, file in own.items()}
    for path, file in zip(paths.values(), own.values(), strict=True):
        if not path.is_file() or reading.sha256(path) != file.sha256:
            raise CatalogueError(
                f"a prepared file of {passage.name!r} is missing or changed; run: earwitness match files"
            )
    return {name: reading.read(path) for name, path in paths.items()}


def _elsewhere(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    matched: MatchedPassage | None,
    places: Mapping[str, Mend],
) -> list[Finding]:
    """The setups that are cut from another place than where their whole tracks lie."""
    prepared = {file.setup: file.mend for file in matched.prepared.setups} if matched else {}
    found = []
    for source in sources:
        place = places.get(source.setup.id)
        if place is None:
            continue
        used = prepared.get(source.setup.id, repairs.get(source.setup.id, NO_MEND))
        off_s = used.delay_s - place.delay_s
        if 1000 * abs(off_s) > LIMITS["performance-track"].value:
            what = (
                f"{source.setup.name} is cut {abs(off_s):.3f} s {'after' if off_s > 0 else 'before'} the place where "
                "its whole recording lies; prepare it anew (match files)"
            )
            found.append(finding("performance-track", source.setup.name, passage.name, 1000 * off_s, what))
    return found


def _stated(found: Sequence[Finding]) -> list[Giveaway]:
    return [
        Giveaway(
            kind=one.kind,
            setup=one.setup,
            passage=one.passage,
            measured=one.measured,
            limit=one.limit,
            unit=one.unit,
            source=one.source,
            what=one.what,
            mendable=one.mend is not None,
            against=one.against,
        )
        for one in found
    ]
