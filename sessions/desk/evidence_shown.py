"""Match sheets and giveaway checks as the desk shows them: the newest first, each with its numbers and its notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from ..casebook import catalogue, documents
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..plans.standing_words import counted, to_the_minute
from ..preparation import match_sheet, measures_in_words
from ..preparation.giveaway_check import GiveawayCheck
from ..preparation.match_sheet import MatchSheet

MOST = 5  # of each kind: older ones are in the report of the plans that rest on them


FILES = ("passage", "setup", "before, LUFS", "gain, dB", "after, LUFS", "peak, dBTP")


@dataclass(frozen=True)
class ShownSheet:
    """A match sheet: what was made equal, what is left and how sure that is, and every setup's levels in a table."""

    at: str
    told: str
    balance: str
    ok: bool
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]


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
    balance = "" if sheet.balance_db is None else f"The channels' balance differs by {sheet.balance_db:.2f} dB at most."
    if sheet.readings is not None:
        return ShownSheet(to_the_minute(at), _told_read(sheet), balance, sheet.ok, *_levels_read(sheet))
    worst, unit = max(sheet.passages, key=lambda part: part.residual_lu), measures_in_words.unit_of(sheet.by)
    told = (
        f"Matched by {measures_in_words.by_in_words(sheet.by)}. Largest mismatch left: {sheet.residual_lu:.3f} {unit} "
        f"(in {worst.passage}; ± {worst.uncertainty_lu:.2f} {unit} from moment to moment), "
        f"{measures_in_words.within(sheet)} the tolerance of {sheet.tolerance_lu:g} {unit}."
    )
    rows = [
        (part.passage, own.setup, *measures_in_words.levels_in_words(own))
        for part in sheet.passages
        for own in part.setups
    ]
    return ShownSheet(to_the_minute(at), told, balance, sheet.ok, FILES, rows)


def _told_read(sheet: MatchSheet) -> str:
    """What a microphone or a voltmeter read again with the trims."""
    assert sheet.readings is not None
    unit = "phon" if sheet.reads_phon else "dB"
    chains = ""
    if sheet.voltmeter is not None:
        wide = sheet.voltmeter.response_db > sheet.voltmeter.response_limit_db
        says = "differ in response by" if wide else "agree over the frequencies read within"
        chains = f" The chains {says} {sheet.voltmeter.response_db:.2f} dB."
    return (
        f"Matched by {measures_in_words.read_by(sheet)}. Read again with the trims: {sheet.residual_lu:.3f} {unit} "
        f"left (± {max(pair.uncertainty_lu for pair in sheet.readings.pairs):.3f}), "
        f"{measures_in_words.within(sheet)} the tolerance of {sheet.tolerance_lu:g} {unit}. "
        f"{counted(len(sheet.passages), 'passage')} prepared.{chains}"
    )


def _levels_read(sheet: MatchSheet) -> tuple[Sequence[str], Sequence[Sequence[str]]]:
    """What was read of each setup, before and with its trim."""
    assert sheet.readings is not None
    offset, unit = sheet.shown_offset_db, measures_in_words.unit_read(sheet)
    rows = [
        (name, f"{read.before_db + offset:.2f}", f"{sheet.readings.gains[name]:+.2f}", f"{read.after_db + offset:.2f}")
        for name, read in sheet.readings.levels.items()
    ]
    return ("setup", f"before, {unit}", "trim, dB", f"after, {unit}"), rows


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
