"""Which match sheet and which giveaway check still hold, after setups, recordings and names were changed.

A sheet holds while its files were made from the recordings that are there now, with the mends that are in force, and no
chain of its real setups was changed since. A check names setups and passages as they were called then.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from ..casebook import catalogue_changes, documents, origins
from ..casebook.documents import Kept
from ..casebook.store import Casebook
from ..preparation.channel_balance import PairBalance
from ..preparation.check_note import Note
from ..preparation.selection import Selection

if TYPE_CHECKING:  # whoever only lists needs no sheet whole
    from ..preparation.match_sheet import MatchSheet


class OfFile(Protocol):
    """A prepared file, as far as it says whose it is and what it was made from."""

    @property
    def setup(self) -> str: ...  # noqa: D102 - the protocol's parts say what they are

    @property
    def source(self) -> str: ...  # noqa: D102


@dataclass(frozen=True)
class SheetFile:
    """A setup's prepared file, its hash, and the hash of what it was made from."""

    setup: str
    source: str
    sha256: str


@dataclass(frozen=True)
class SheetPrepared:
    """The prepared files of a passage."""

    passage: str
    setups: tuple[SheetFile, ...]


@dataclass(frozen=True)
class SheetPassage:
    """A passage of a sheet: what the match left, its files, and the balances read between their setups."""

    residual_lu: float
    prepared: SheetPrepared
    balances: tuple[PairBalance, ...] = ()


@dataclass(frozen=True)
class SheetSummary:
    """As much of a match sheet as tells what it covers; read faster than the whole."""

    by: str
    tolerance_lu: float
    passages: tuple[SheetPassage, ...]


@dataclass(frozen=True)
class CheckedFinding:
    """A giveaway as a check names it; `against` is empty where it shows by itself, and in older checks.

    `measured` and `limit` are in `unit`.
    """

    kind: str
    setup: str
    passage: str
    what: str = ""
    mendable: bool = False
    against: str = ""
    measured: float = 0.0
    limit: float = 0.0
    unit: str = ""


@dataclass(frozen=True)
class CheckSummary:
    """As much of a giveaway check as tells what it covers and found; read without loading what checks."""

    findings: tuple[CheckedFinding, ...]
    setups: tuple[str, ...]
    passages: tuple[str, ...]
    notes: tuple[Note | str, ...] = ()
    every_pair: bool = False


@dataclass(frozen=True)
class Sources:
    """What is in the catalogue now: the hashes of files by setup and track, the music's by track, changes of chains.

    And the newest links that may change how files are read: of mends by passage, of alignments by track.
    """

    files: Mapping[tuple[str | None, str], str]
    tracks: Mapping[str, str]
    chains_changed: Mapping[str, int]
    mended: Mapping[str, int]
    laid: Mapping[str, int]

    @classmethod
    def of(cls, casebook: Casebook) -> Sources:
        """Those of a casebook."""
        own = casebook.query("SELECT setup_id, track_id, sha256 FROM recordings")
        music = casebook.query("SELECT NULL AS setup_id, track_id, sha256 FROM sources")
        return cls(
            {(row["setup_id"], row["track_id"]): row["sha256"] for row in own + music},
            {row["id"]: row["track_id"] for row in casebook.query("SELECT id, track_id FROM passages")},
            catalogue_changes.last_changes(casebook, "chains"),
            _newest(casebook, "SELECT passage_id, max(seq) FROM mends GROUP BY passage_id"),
            _newest(
                casebook,
                """SELECT track_id, max(alignments.seq) FROM alignments JOIN recordings
                   ON recordings.id = alignments.recording GROUP BY track_id""",
            ),
        )

    def hold(self, files: Iterable[OfFile], passage_id: str, real: Collection[str], seq: int) -> bool:
        """Whether these files of a passage, prepared before link `seq`, are still what would be prepared now."""
        track = self.tracks.get(passage_id, "")
        return all(
            self.files.get((None if one.setup in real else one.setup, track)) == one.source
            and self.chains_changed.get(one.setup, 0) < seq
            for one in files
        )

    def mended_since(self, passage_id: str, seq: int) -> bool:
        """Whether something after link `seq` may have changed how a passage is cut from its recordings."""
        return max(self.mended.get(passage_id, 0), self.laid.get(self.tracks.get(passage_id, ""), 0)) > seq


def _newest(casebook: Casebook, sql: str) -> dict[str, int]:
    return dict(tuple(row.values()) for row in casebook.query(sql))


def sheet(casebook: Casebook, selection: Selection) -> Kept[MatchSheet] | None:
    """The newest match sheet of these setups and passages, if it holds; None otherwise."""
    from ..preparation import match_sheet, mends
    from ..preparation.passage_audio import NO_MEND

    kept = match_sheet.newest(casebook, selection)
    if kept is None:
        return None
    sources, setups = Sources.of(casebook), {setup.id for setup in selection.setups}
    real = {setup.id for setup in selection.setups if setup.is_real}
    for passage in selection.passages:
        matched = kept.record.passage(passage.id)
        files = [file for file in matched.prepared.setups if file.setup in setups] if matched else []
        if not sources.hold(files, passage.id, real, kept.seq):
            return None
        repairs = {} if real else mends.in_force(casebook, selection.setups, passage)
        if not real and any(file.mend != repairs.get(file.setup, NO_MEND) for file in files):
            return None
    return kept


def summaries(casebook: Casebook) -> Iterator[Kept[SheetSummary]]:
    """All match sheets as far as they tell what they cover, the newest first."""
    rows = casebook.query("SELECT * FROM match_sheets ORDER BY seq DESC")
    for row in origins.with_named_hashes(casebook, "match_sheets", rows):
        yield Kept(documents.from_text(row["document"], SheetSummary), row["seq"], row["hash"], row["at"])


def by_passage(casebook: Casebook) -> dict[str, list[tuple[Kept[SheetSummary], SheetPassage]]]:
    """Each passage's match sheets and its parts of them, the newest first, by its identifier."""
    found: dict[str, list[tuple[Kept[SheetSummary], SheetPassage]]] = {}
    for kept in summaries(casebook):
        for part in kept.record.passages:
            found.setdefault(part.prepared.passage, []).append((kept, part))
    return found


def checks(casebook: Casebook, named: Collection[str] | None = None) -> Iterator[Kept[CheckSummary]]:
    """All giveaway checks (or those of some hashes) as far as they tell what they cover and found, the newest first."""
    rows = casebook.query("SELECT * FROM checks ORDER BY seq DESC")
    for row in origins.with_named_hashes(casebook, "checks", rows):
        if named is None or row["hash"] in named:
            yield Kept(documents.from_text(row["document"], CheckSummary), row["seq"], row["hash"], row["at"])
