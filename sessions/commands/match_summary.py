"""A match sheet in words, as `match` and `compare` print it."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ..preparation.measures_in_words import by_in_words, levels_in_words, named, read_by, unit_of, unit_read, within
from .context import columns, counted, say, table

if TYPE_CHECKING:
    from ..preparation.match_evidence import MicrophoneEvidence
    from ..preparation.match_sheet import MatchSheet
    from ..preparation.meanings import Furthest

UNITS = (
    "Before and after: loudness in LUFS (ITU-R BS.1770; 1 LU up is 1 dB louder). Gain: in dB. Peak: the highest point "
    "of the sound afterwards, also between samples, in dBTP (0 is full scale)."
)
OF_WHAT = {"mic": " (of the noise at the microphone)", "volts": " (of the music behind the chains)"}
CHOSEN = " (made equal here)"
TOLD_DB = 0.005  # below it two decimals tell nothing


def tell_sheet(sheet: MatchSheet) -> None:
    """The match sheet in words."""
    if sheet.readings is not None:
        _tell_real(sheet)
        return
    rows = [[part.passage, own.setup, *levels_in_words(own)] for part in sheet.passages for own in part.setups]
    for line in _fitting(["passage", "setup", "before", "gain", "after", "peak"], rows):
        say(line)
    say(UNITS)
    worst = max(sheet.passages, key=lambda part: part.residual_lu)
    say(
        f"Matched by {by_in_words(sheet.by)}. Largest mismatch left: {sheet.residual_lu:.3f} {unit_of(sheet.by)} "
        f"(in {worst.passage}; ± {worst.uncertainty_lu:.2f} {unit_of(sheet.by)} from moment to moment), "
        f"{within(sheet)} the tolerance of {sheet.tolerance_lu:g} {unit_of(sheet.by)}."
    )
    _tell_meanings(sheet)
    _tell_balance(sheet)


def _tell_meanings(sheet: MatchSheet) -> None:
    """What another meaning of equal would have given, and how far that matters."""
    from ..preparation.meanings import full_scale_spl, meanings

    found = meanings(sheet)
    if found is None:
        return
    rows = [
        [f"{named(one.by, sheet.by)}{CHOSEN if one.by == sheet.taken else ''}"]
        + [_from_to(low, high) for low, high in one.gains_db]
        for one in found.given
    ]
    several = len(sheet.passages) > 1 and any(low != high for one in found.given for low, high in one.gains_db)
    of_what, by_passage = OF_WHAT.get(sheet.by, ""), ", by passage" if several else ""
    say(
        f"Equally loud in another sense{of_what}: by how many dB a setup would then be turned up (+) or down (-) from "
        f"where it is now, against {found.first}{by_passage}:"
    )
    for line in _fitting(["equal by", *found.others], rows):
        say(f"  {line}")
    if sheet.by == "mic":
        say(
            "  All of this is of the pink noise that the microphone heard, not of music: where the setups differ in "
            "one part of the range, music that lies there moves otherwise."
        )
    heard = {full_scale_spl(one.by) for one in found.given} - {"", full_scale_spl(sheet.taken)}
    if heard:
        known = "stands for" if sheet.spl_offset_db is not None else "is taken to stand for"
        full_scale = {"mic": "the microphone's full scale", "volts": "a volt"}.get(sheet.by, "full scale")
        say(f"  ISO 532-1 hears how loud it plays: here {full_scale} {known} {heard.pop()} dB SPL.")
    _tell_furthest(sheet, found.furthest)


def _tell_furthest(sheet: MatchSheet, found: Furthest) -> None:
    """The two meanings that lie furthest apart, and what that is to who listens."""
    if found.apart_db < TOLD_DB:
        say("  So here it makes no difference which of them is made equal.")
        return
    one, other = (
        f"{named(by, sheet.by)} ({_from_to(gain, gain)} dB)" for by, gain in zip(found.by, found.gains_db, strict=True)
    )
    where = f" in {found.passage}" if len(sheet.passages) > 1 else ""
    say(
        f"  The furthest apart{where}: {one} and {other}. Between these two {found.setup} is "
        f"{found.apart_db:.2f} dB louder or softer against {found.against}; all other choices differ by less."
    )


def _from_to(low_db: float, high_db: float) -> str:
    low, high = (f"{round(gain, 2) + 0.0:+.2f}" for gain in (low_db, high_db))  # no zero with a minus
    return low if low == high else f"{low} to {high}"


def _fitting(headings: list[str], rows: list[list[str]]) -> list[str]:
    """A table whose rows fit the terminal: where names are too long, what stands first has a line above its rows."""
    whole = table(headings, rows).split("\n")
    if not sys.stdout.isatty() or max(map(len, whole)) <= columns():
        return whole
    inner = table(headings[1:], [row[1:] for row in rows]).split("\n")
    lines = [f"  {inner[0]}"]
    for number, (row, line) in enumerate(zip(rows, inner[1:], strict=True)):
        lines += [f"{row[0]}:"] if number == 0 or rows[number - 1][0] != row[0] else []
        lines.append(f"  {line}")
    return lines


def _tell_real(sheet: MatchSheet) -> None:
    readings = sheet.readings
    assert readings is not None
    offset, unit = sheet.shown_offset_db, unit_read(sheet)
    rows = [
        [name, f"{read.before_db + offset:.2f}", f"{readings.gains[name]:+.2f}", f"{read.after_db + offset:.2f}"]
        for name, read in readings.levels.items()
    ]
    say(table(["setup", f"before, {unit}", "trim dB", "after"], rows))
    if sheet.microphone is not None:
        _tell_microphone(sheet.microphone)
        _tell_level_taken(sheet)
    if sheet.voltmeter is not None:
        wide = sheet.voltmeter.response_db > sheet.voltmeter.response_limit_db
        says = "differ in response by" if wide else "agree over the frequencies read within"
        say(f"  The chains {says} {sheet.voltmeter.response_db:.2f} dB.")
    unit = "phon" if sheet.reads_phon else "dB"
    say(
        f"Matched by {read_by(sheet)}. Read again with the trims: {sheet.residual_lu:.3f} {unit} left "
        f"(± {max(pair.uncertainty_lu for pair in readings.pairs):.3f}), "
        f"{within(sheet)} the tolerance of {sheet.tolerance_lu:g} {unit}. "
        f"{counted(len(sheet.passages), 'passage')} prepared."
    )
    _tell_meanings(sheet)
    _tell_balance(sheet)


def _tell_level_taken(sheet: MatchSheet) -> None:
    """Where loudness by ISO 532-1 was heard at an assumed level: what that was, and how far it matters."""
    evidence = sheet.microphone
    if evidence is None or evidence.loudness is None:
        return
    taken = evidence.loudness
    if taken.assumed_spl_db is None:
        say("  Loudness was heard at the level that the calibrated microphone read.")
        return
    moves = max(
        abs((one[name] - one[first]) - (here[name] - here[first]))
        for here in [taken.trims_at["+0"]]
        for one in taken.trims_at.values()
        for first in list(one)[:1]
        for name in one
    )
    say(
        f"  The microphone is not calibrated: the noise of the softest setup is taken to play at "
        f"{taken.assumed_spl_db:g} dB SPL (--chair-level states another). Were it 10 dB softer or louder, the trims "
        f"would move by {moves:.2f} dB at most."
    )


def _tell_microphone(evidence: MicrophoneEvidence) -> None:
    from audio.room import level

    for weighting, read in evidence.before.items():
        for part in read.differences:
            one, other = part.setups
            say(
                f"  {level.WEIGHTINGS[weighting]}: {one} against {other} {part.difference_db:+.2f} dB "
                f"(± {part.uncertainty_db:.2f}; {part.spread_db:.2f} dB between positions) before the trims"
            )
    late = evidence.arrivals_ms
    if late and max(late.values()) - min(late.values()) >= 0.05:
        first = min(late.values())
        behind = ", ".join(f"{name} {value - first:+.2f} ms" for name, value in late.items())
        say(f"  Arrival at the microphone: {behind} (a --delay for the earlier ones brings them together)")


def _tell_balance(sheet: MatchSheet) -> None:
    from ..preparation import channel_balance
    from ..preparation.channel_balance import BALANCE_LIMIT_DB

    if sheet.worst_balance is not None:
        passage, pair = sheet.worst_balance
        where = f"{' and '.join(pair.setups)} in {passage}"
        say(f"  {channel_balance.unjudged(pair).in_words(where)}")
    if sheet.balance_db is not None:
        inside = "within" if sheet.balance_db <= BALANCE_LIMIT_DB else "MORE THAN"
        say(
            f"  The balance of the channels differs by {sheet.balance_db:.2f} dB between setups at most, {inside} the "
            f"limit of {BALANCE_LIMIT_DB:g} dB."
        )
        if sheet.balance_db > BALANCE_LIMIT_DB:
            say(
                "  No gain mends that: level the channels and record again, leave the passage out, or accept it in the "
                "plan: --accept channel-level=WHY"
            )
