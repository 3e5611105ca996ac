"""Match sheets and giveaway checks as the desk shows them: the newest first, each with its numbers and its notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from ..casebook import catalogue, documents
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..plans.standing_words import to_the_minute
from ..preparation import match_sheet, measures_in_words
from ..preparation.giveaway_check import GiveawayCheck
from ..preparation.match_sheet import MatchSheet

MOST = 5  # of each kind: older ones are in the report of the plans that rest on them


@dataclass(frozen=True)
class LevelRow:
    """A setup on a passage: loudness before and after in LUFS, the gain in dB, the highest peak in dBTP."""

    passage: str
    setup: str
    before: str
    gain: str
    after: str
    peak: str


@dataclass(frozen=True)
class ShownSheet:
    """A match sheet: what was made equal, what is left, and every setup's levels."""

    at: str
    told: str
    balance: str
    ok: bool
    rows: Sequence[LevelRow]


@dataclass(frozen=True)
class ShownFinding:
    """A giveaway that was found: its kind and where, what it is, and how far beyond its limit."""

    kind: str
    where: str
    what: str
    measured: str
    mendable: bool


@dataclass(frozen=True)
class ShownCheck:
    """A giveaway check."""

    at: str
    of: str
    findings: Sequence[ShownFinding]
    notes: Sequence[str]


@dataclass(frozen=True)
class Evidence:
    """What plans rest on."""

    sheets: Sequence[ShownSheet]
    checks: Sequence[ShownCheck]


def gather(casebook: Casebook) -> Evidence:
    """The newest of both kinds."""
    sheets = [_sheet(kept.record, kept.at) for kept in islice(match_sheet.newest_first(casebook), MOST)]
    rows = casebook.query("SELECT document, at FROM checks ORDER BY seq DESC LIMIT ?", [MOST])
    names = catalogue.names(casebook, Setup), catalogue.names(casebook, Passage)
    checks = [_check(documents.from_text(row["document"], GiveawayCheck), row["at"], *names) for row in rows]
    return Evidence(sheets, checks)


def _sheet(sheet: MatchSheet, at: str) -> ShownSheet:
    worst, unit = max(sheet.passages, key=lambda part: part.residual_lu), measures_in_words.unit_of(sheet.by)
    told = (
        f"Matched by {measures_in_words.by_in_words(sheet.by)}. Largest mismatch left: {sheet.residual_lu:.3f} {unit} "
        f"(in {worst.passage}), {measures_in_words.within(sheet)} the tolerance of {sheet.tolerance_lu:g} {unit}."
    )
    balance = "" if sheet.balance_db is None else f"The channels' balance differs by {sheet.balance_db:.2f} dB at most."
    rows = [
        LevelRow(part.passage, own.setup, *measures_in_words.levels_in_words(own))
        for part in sheet.passages
        for own in part.setups
    ]
    return ShownSheet(to_the_minute(at), told, balance, sheet.ok, rows)


def _check(check: GiveawayCheck, at: str, setups: dict[str, str], passages: dict[str, str]) -> ShownCheck:
    on = [passages.get(one, "a passage that is gone") for one in check.passages]
    findings = [
        ShownFinding(
            one.kind,
            f"{one.setup} in {one.passage}",
            one.what,
            f"measured {one.measured:.4g} {one.unit}, limit {one.limit:.4g} {one.unit} ({one.source})",
            one.mendable,
        )
        for one in check.findings
    ]
    of = f"{', '.join(setups.get(one, 'a setup that is gone') for one in check.setups)} on {', '.join(on)}"
    return ShownCheck(to_the_minute(at), of, findings, check.sentences)
