"""The match sheet: the evidence that setups play equally loud, and the prepared files that were measured for it.

The one module that reads and writes match sheets. How levels are matched is `match_files` and `match_real_gear`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from audio.mend_values import Mend

from ..casebook import documents, origins
from ..casebook.documents import Kept
from ..casebook.store import Casebook, Row
from . import channel_balance
from .channel_balance import BALANCE_LIMIT_DB, PairBalance
from .match_evidence import LevelReading, MicrophoneEvidence, PairUncertainty, Readings, VoltmeterEvidence
from .selection import Selection

DEFAULT_TOLERANCE_LU = 0.1


@dataclass(frozen=True)
class PreparedFile:
    """One setup's prepared file: from which source (its hash) and with which mend; its name and hash."""

    setup: str
    source: str
    mend: Mend
    file: str
    sha256: str


@dataclass(frozen=True)
class PreparedPassage:
    """What is played of a passage; `passage`, and `setup` in its files, are identifiers."""

    passage: str
    rate_hz: int
    frames: int
    setups: tuple[PreparedFile, ...]


@dataclass(frozen=True)
class MatchedSetup:
    """One setup on one passage: before, the gain, and after (measured again from the prepared file).

    Attributes
    ----------
    setup, id
        Its name when it was matched, and its identifier.
    level_db, after_level_db, channel_after_db
        In the measure that was matched by.
    chair_dba
        The passage's level at the chair; None where no calibrated microphone read it.
    channel_gains_db
        How much louder each channel is than the first setup's, whatever the music's spectrum; None where that was not
        read (by voltmeter, and on sheets of before it was) or could not be judged. The balance is how far they lie
        apart.
    """

    setup: str
    loudness_lufs: float
    gain_db: float
    after_lufs: float
    true_peak_dbtp: float
    level_db: float
    after_level_db: float
    channel_after_db: tuple[float | None, ...]
    chair_dba: float | None = None
    id: str = ""
    channel_gains_db: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Meaning:
    """One meaning of equal: how loud each setup is afterwards in that measure, in dB, in their order.

    Loudness by ISO 532-1 is told in dB from the first setup on, whose own is in phon.
    """

    by: str
    after_db: tuple[float, ...]


@dataclass(frozen=True)
class MatchedPassage:
    """One passage (by its name): every setup, what is left between them, and the files prepared.

    `balances` are of each two setups whose balance was read in their files; older sheets, on which what could not be
    judged stands as less than it may be, and those of real gear have none. `meanings` are all measures, that which was
    matched by among them; sheets of before have none. At a microphone they are of the noise, the same on each passage.
    """

    passage: str
    residual_lu: float
    channel_residual_lu: float | None
    uncertainty_lu: float
    pairs: tuple[PairUncertainty, ...]
    setups: tuple[MatchedSetup, ...]
    prepared: PreparedPassage
    balances: tuple[PairBalance, ...] = ()
    meanings: tuple[Meaning, ...] = ()

    def setups_of(self, setup_ids: Collection[str]) -> list[MatchedSetup]:
        """Those of the setups with these identifiers."""
        return [own for own in self.setups if own.id in setup_ids]

    def balance_between(self, setup_ids: Collection[str]) -> float | None:
        """By how much the channels' balance differs between some of the setups, in dB; None: not read or judged."""
        if self.balances:
            pairs = self.balances_of(setup_ids)
            judged = [pair.balance_db for pair in pairs if pair.balance_db is not None]
            return channel_balance.largest(judged, all_judged=len(judged) == len(pairs))
        read = [own.channel_gains_db for own in self.setups_of(setup_ids)]
        known = [gains for gains in read if gains is not None]
        if len(known) < len(read) or len({len(gains) for gains in known}) > 1:
            return None
        apart = [[b - a for a, b in zip(one, two, strict=True)] for one, two in combinations(known, 2)]
        return max((max(each) - min(each) for each in apart), default=0.0)

    def balances_of(self, setup_ids: Collection[str]) -> list[PairBalance]:
        """The balances between some of the setups."""
        return channel_balance.among(self.balances, [own.setup for own in self.setups_of(setup_ids)])

    @property
    def balance_db(self) -> float | None:
        """By how much the channels' balance differs between all setups; None where it was not read, or not judged."""
        return self.balance_between([own.id for own in self.setups])

    def left_between(self, setup_ids: Collection[str]) -> tuple[float, float]:
        """What is left between some of the setups, and the uncertainty of that, in LU."""
        own = self.setups_of(setup_ids)
        names = {setup.setup for setup in own}
        uncertainty = max(pair.uncertainty_lu for pair in self.pairs if set(pair.setups) <= names)
        levels = [setup.after_level_db for setup in own]
        return max(levels) - min(levels), uncertainty


@dataclass(frozen=True)
class MatchSheet:
    """A match sheet, of recordings or (then `setups` to `readings` are there) of real gear.

    Attributes
    ----------
    by
        What was made equal: a measure of the files (``bs1770``, ``a``, ``c``, ``band``, ``zwicker@98``,
        ``zwicker-n5@98``: loudness by ISO 532-1, full scale taken to play at 98 dB SPL), ``mic`` or ``volts``.
    setups
        Identifiers.
    """

    by: str
    tolerance_lu: float
    passages: tuple[MatchedPassage, ...]
    weighting: str | None = None
    setups: tuple[str, ...] = ()
    microphone: MicrophoneEvidence | None = None
    voltmeter: VoltmeterEvidence | None = None
    readings: Readings | None = None

    @property
    def residual_lu(self) -> float:
        """The largest difference left on any passage."""
        return max(passage.residual_lu for passage in self.passages)

    @property
    def balance_db(self) -> float | None:
        """The largest difference of the channels' balance on any passage; None where it was not read, or not judged."""
        known = [each.balance_db for each in self.passages if each.balance_db is not None]
        return channel_balance.largest(known, all_judged=self.worst_balance is None)

    @property
    def worst_balance(self) -> tuple[str, PairBalance] | None:
        """Of the balances that could not be judged that which hides most, and its passage; None where all could."""
        found = [(part.passage, channel_balance.worst(part.balances)) for part in self.passages]
        unjudged = [(passage, pair) for passage, pair in found if pair is not None]
        return max(unjudged, key=lambda each: each[1].hides_db, default=None)

    @property
    def ok(self) -> bool:
        """Whether every passage is within the tolerance, and the channels' balance within its limit."""
        return self.residual_lu <= self.tolerance_lu and (self.balance_db or 0.0) <= BALANCE_LIMIT_DB

    @property
    def spl_offset_db(self) -> float | None:
        """What turns the microphone's levels into dB SPL; None where nothing does."""
        return None if self.microphone is None else self.microphone.spl_offset_db

    @property
    def taken(self) -> str:
        """The measure in which setups were made equal; at a microphone the weighting or loudness of its readings."""
        return self.weighting or self.by if self.by == "mic" else self.by

    @property
    def reads_phon(self) -> bool:
        """Whether a microphone's readings are loudness levels."""
        return self.microphone is not None and self.microphone.loudness is not None

    @property
    def shown_offset_db(self) -> float:
        """What is added to real gear's readings where they are shown: dB SPL where the microphone is calibrated."""
        return 0.0 if self.reads_phon else self.spl_offset_db or 0.0

    def passage(self, passage_id: str) -> MatchedPassage | None:
        """The passage of that identifier."""
        return next((part for part in self.passages if part.prepared.passage == passage_id), None)

    def covers(self, setup_ids: Collection[str], passage_ids: Collection[str]) -> bool:
        """Whether all of these setups are matched on all of these passages."""
        covered = {
            part.prepared.passage
            for part in self.passages
            if set(setup_ids) <= {own.setup for own in part.prepared.setups}
        }
        return set(passage_ids) <= covered

    def name_of(self, setup_id: str) -> str:
        """What a setup of the sheet was called when it was matched."""
        return next(own.setup for part in self.passages for own in part.setups if own.id == setup_id)

    def reading_of(self, setup_id: str) -> LevelReading:
        """What was read of a real setup."""
        assert self.readings is not None
        return self.readings.levels[self.name_of(setup_id)]

    def trim_of(self, setup_id: str) -> float:
        """The trim of a real setup, in dB."""
        assert self.readings is not None
        return self.readings.gains[self.name_of(setup_id)]

    def to_document(self) -> dict[str, Any]:
        """The sheet as it is kept and printed; of recordings without the parts that only real gear has."""
        stated: dict[str, Any] = {
            "ok": self.ok,
            "tolerance_lu": self.tolerance_lu,
            "residual_lu": self.residual_lu,
            "by": self.by,
        }
        if self.balance_db is not None or self.worst_balance is not None:
            stated["balance_db"] = self.balance_db
        passages = documents.plain(self.passages)
        for part, passage in zip(passages, self.passages, strict=True):
            for what in ("balances", "meanings"):
                if not part[what]:
                    del part[what]
            if passage.balance_db is not None or passage.balances:
                part["balance_db"] = passage.balance_db
            for own in part["setups"]:
                if own["channel_gains_db"] is None:
                    del own["channel_gains_db"]
        if self.readings is not None:
            evidence = documents.plain(self.microphone or self.voltmeter)
            if self.microphone is not None and self.microphone.loudness is None:
                del evidence["loudness"]
            more = {"weighting": self.weighting, "setups": list(self.setups), "passages": passages}
            return stated | more | {"evidence": evidence, "readings": documents.plain(self.readings)}
        for part in passages:
            for own in part["setups"]:
                del own["chair_dba"]
        return stated | {"passages": passages}


def from_text(text: str) -> MatchSheet:
    """The sheet of a kept document.

    Raises
    ------
    CasebookError
        If it is none.
    """
    stated: dict[str, Any] = documents.from_text(text, dict)
    for part in stated.get("passages", []):
        for own, file in zip(part["setups"], part["prepared"]["setups"], strict=True):
            own.setdefault("id", file["setup"])  # sheets of before 0.1.0 name setups here by their names alone
            own.setdefault("channel_gains_db", own.get("balance_db"))  # as some of them call it
    if "evidence" in stated:
        stated["microphone" if stated["by"] == "mic" else "voltmeter"] = stated["evidence"]
    return documents.from_plain(stated, MatchSheet)


def keep(casebook: Casebook, sheet: MatchSheet) -> Kept[MatchSheet]:
    """Keep a new sheet."""
    row = casebook.append(
        "match_sheets", "sheet", {"document": documents.text_of(sheet.to_document(), sort_keys=False)}
    )
    return Kept(sheet, row["seq"], row["hash"], row["at"])


def newest_first(casebook: Casebook) -> Iterator[Kept[MatchSheet]]:
    """All sheets, the newest first."""
    rows = casebook.query("SELECT * FROM match_sheets ORDER BY seq DESC")
    for row in origins.with_named_hashes(casebook, "match_sheets", rows):
        yield _kept(row)


def newest(casebook: Casebook, selection: Selection) -> Kept[MatchSheet] | None:
    """The newest sheet that covers these setups and passages; None if there is none."""
    setups = {setup.id for setup in selection.setups}
    passages = {passage.id for passage in selection.passages}
    return next((kept for kept in newest_first(casebook) if kept.record.covers(setups, passages)), None)


def of_hash(casebook: Casebook, sheet_hash: str | None) -> MatchSheet | None:
    """The sheet that a plan names by its hash; None if there is none."""
    rows = casebook.query(
        """SELECT * FROM match_sheets WHERE hash = :hash
           OR id IN (SELECT row_id FROM origin_links WHERE part = 'match_sheets' AND hash = :hash)""",
        {"hash": sheet_hash},
    )
    return _kept(rows[0]).record if rows else None


def _kept(row: Row) -> Kept[MatchSheet]:
    return Kept(from_text(row["document"]), row["seq"], row["hash"], row["at"])
