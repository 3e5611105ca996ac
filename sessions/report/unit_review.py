"""The review of one unit, or of several side by side: what the maker states, what was measured, compared and said.

It begins with sentences that can be read aloud; each number stands in the table below with the curve it is from.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..measured import curve_records, curve_summary, makers_facts
from ..measured.conditions import where_in_words
from ..measured.curve_records import CurveRecord, SetupCurves
from ..measured.curve_summary import CurveSummary
from ..measured.makers_facts import AGREES, DIFFERS, OPEN, CheckedFact
from ..measured.rating import least_in_words
from ..plans import words_in_trials
from ..results import unit_in_ballots, viewers_results
from ..results.how_answered import listed, number_of
from ..results.review import ReviewedPlan
from ..results.unit_in_ballots import BesideOther, Marked
from ..results.verdict import Verdict
from ..results.viewers_results import ViewersTold
from ..words import lexicon_rows, log
from ..words.folding import folded
from ..words.lexicon import Lexicon
from ..words.profile import Profile, Use, profile
from . import pairs_apart, units_compared
from .claims import standing
from .claims.standing import JudgedClaim
from .pairs_apart import Pair

END_DB = 6  # below its mean: where a response ends, of those that are told
MOST_WORDS = 3  # in a sentence


@dataclass(frozen=True)
class Unit:
    """One unit: what its maker states beside what was measured, its words, and what blind ballots got of it.

    Attributes
    ----------
    marked
        What each word of a ballot got of it, by word, folded.
    beside
        The words of the ballots, of it rather than of another.
    """

    setup: Setup
    facts: Sequence[CheckedFact]
    words: Profile
    marked: Mapping[str, Marked]
    beside: Sequence[BesideOther]
    measured: SetupCurves
    summary: CurveSummary


@dataclass(frozen=True)
class Row:
    """One line of the table: what it is, and a cell for each unit."""

    what: str
    cells: Sequence[str]


@dataclass(frozen=True)
class UnitReview:
    """Units side by side: what can be read aloud first, then the table of what it rests on."""

    units: Sequence[Unit]
    answer: Sequence[str]
    rows: Sequence[Row]

    @property
    def names(self) -> list[str]:
        """Of the units."""
        return [one.setup.name for one in self.units]


def gather(
    casebook: Casebook,
    setups: Sequence[Setup],
    verdicts: Sequence[Verdict],
    claims: Sequence[JudgedClaim],
    *,
    ballots: Sequence[ReviewedPlan] = (),
    asked: Sequence[ViewersTold] = (),
) -> UnitReview:
    """The review of some units.

    Parameters
    ----------
    verdicts
        Of the plans that the report shows.
    claims
        About these units.
    ballots
        The plans whose ballots tell of the units' words; other plans among them, and those not over, tell nothing.
    asked
        The viewers' tests of those plans.
    """
    said, lexicon = words_in_trials.labelled(casebook, log.words(casebook)), lexicon_rows.in_force(casebook)
    units = []
    for setup in setups:
        measured = curve_records.of_setup(casebook, setup)
        units.append(
            Unit(
                setup,
                makers_facts.of_setup(casebook, setup),
                profile(said, setup.id, setup.name, lexicon),
                unit_in_ballots.marked(ballots, setup.id, lexicon),
                unit_in_ballots.beside_others(ballots, setup.id, lexicon),
                measured,
                curve_summary.summary(measured),
            )
        )
    compared = units_compared.counted([one.name for one in setups], verdicts)
    pairs = pairs_apart.gather(casebook, setups)
    answer = [compared, viewers_results.summed_up(asked)]
    if len(units) == 1:
        [one] = units
        answer += [_measured(one), _stated(one), _said(one, lexicon)]
        answer.append(unit_in_ballots.shown(one.setup.name, one.beside))
    else:
        answer += pairs_apart.sentences(pairs)
    answer.append(_claimed(claims))
    return UnitReview(units, list(filter(None, answer)), _rows(units, verdicts, pairs))


def about(judged: Sequence[JudgedClaim], setups: Sequence[Setup], plans: Sequence[Verdict]) -> list[JudgedClaim]:
    """The claims whose evidence names one of these setups, or rests on one of these plans."""
    ids, asked = {one.id for one in setups}, {one.plan.id for one in plans}
    found = []
    for one in judged:
        content = one.claim.content
        named = {
            *(of for word in content.words for of in word.setups),
            *(of for curve in content.curves for of in curve.of),
            *(fact.setup for fact in content.facts),
        }
        if named & ids or {plan.plan for plan in content.plans} & asked:
            found.append(one)
    return found


def _measured(unit: Unit) -> str:
    name, found = unit.setup.name, unit.summary
    parts = [cell for cell in (_sensitivity(found), _low_end(found), _least(found)) if cell]
    if not parts:
        return f"Of {name} nothing was measured that is told in numbers here."
    return f"Measured of {name}: {'; '.join(parts)}."


def _stated(unit: Unit) -> str:
    """How many of the maker's facts agree with what was measured; which do not."""
    checkable = [one for one in unit.facts if one.checkable]
    if not unit.facts:
        return f"Nothing that the maker of {unit.setup.name} states is kept here."
    if not checkable:
        return f"What the maker of {unit.setup.name} states no curve tells of."
    parts = []
    for outcome, one_does, several_do in (
        (AGREES, "agrees", "agree"),
        (DIFFERS, "does not agree", "do not agree"),
        (OPEN, "cannot be told from these data", "cannot be told from these data"),
    ):
        own = [one.fact.what for one in checkable if one.outcome == outcome]
        if own:
            parts.append(f"{listed(own)} {one_does if len(own) == 1 else several_do}")
    return f"Of what the maker of {unit.setup.name} states, beside what was measured: {'; '.join(parts)}."


def _said(unit: Unit, lexicon: Lexicon) -> str:
    used = [one for one in unit.words.used if not one.likes][:MOST_WORDS]
    if not used:
        return ""
    told = [
        f"{one.word} ({number_of(one.tracks, 'track') if one.tracks else 'outside of any track'}, "
        f"{_blindly(one, unit.marked.get(folded(lexicon.headword(one.word)), Marked()))})"
        for one in used
    ]
    return f"Said most of {unit.setup.name}: {listed(told)}."


def _blindly(use: Use, marked: Marked) -> str:
    """How often a word was said in a blind trial, and what it got in ballots; "never" only where there was neither."""
    said = f"{number_of(use.in_blind_trials, 'time')} in a blind trial" if use.in_blind_trials else ""
    return ", ".join(filter(None, [said, marked.told])) or "never in a blind trial"


def _claimed(claims: Sequence[JudgedClaim]) -> str:
    if not claims:
        return ""
    told = listed(standing.counted((one.standing, bool(one.overstated)) for one in claims))
    return f"Of {number_of(len(claims), 'sentence')} that the reviewer wants to say: {told}."


def _rows(units: Sequence[Unit], verdicts: Sequence[Verdict], pairs: Sequence[Pair]) -> list[Row]:
    """What stands side by side; a line that no unit has something in is left out."""
    cells: list[tuple[str, Callable[[Unit], str]]] = [
        ("heard blind", lambda unit: units_compared.beside_others(unit.setup, verdicts)),
        (pairs_apart.LINE, lambda unit: pairs_apart.cell(unit.setup.name, pairs)),
        ("sensitivity", lambda unit: _sensitivity(unit.summary)),
        ("lower end", lambda unit: _low_end(unit.summary)),
        ("least impedance", lambda unit: _least(unit.summary)),
        ("in the room", lambda unit: _in_room(unit.summary)),
        ("directions measured", lambda unit: str(len(unit.summary.directions) or "")),
        ("measured when and how", lambda unit: _how(unit.measured.on_axis)),
        ("curves", _curves),
        ("words, most tracks first", _words),
        ("words shown by blind ballots", _of_ballots),
        ("words of ballots of several, computed afterwards (exploratory)", _among_several),
        ("described", _described),
    ]
    stated = list(dict.fromkeys(one.fact.what for unit in units for one in unit.facts))
    rows = [Row(what, [cell(unit) for unit in units]) for what, cell in cells]
    rows += [Row(f"{what}, as stated", [_fact(unit, what) for unit in units]) for what in stated]
    return [row for row in rows if any(row.cells)]


def _sensitivity(found: CurveSummary) -> str:
    axis = found.on_axis
    if axis is None or axis.sensitivity_db is None:
        return ""
    part = axis.sensitivity_hz
    only = f", from {part[0]:.0f} to {part[1]:.0f} Hz only" if part else ""
    return f"{axis.sensitivity_db:.1f} dB SPL for 2.83 V at 1 m{only}"


def _low_end(found: CurveSummary) -> str:
    axis = found.on_axis
    ends = axis.ends.ends if axis and axis.ends else ()
    low_hz = next((one.low_hz for one in ends if one.db == END_DB), None)
    return f"{END_DB} dB below its mean at {low_hz:.0f} Hz" if low_hz else ""


def _least(found: CurveSummary) -> str:
    own = found.impedance
    return f"at least {least_in_words(own)}, at {own.minimum_hz:.0f} Hz" if own else ""


def _in_room(found: CurveSummary) -> str:
    room = found.directivity.in_room if found.directivity else None
    if room is None:
        return ""
    return f"estimate {room.slope_db_per_octave:+.2f} dB an octave, bumps of {room.bumpiness_db:.2f} dB"


def _how(record: CurveRecord | None) -> str:
    if record is None:
        return ""
    return ", ".join(filter(None, (record.conditions.when or record.at[:10], record.conditions.in_words())))


def _curves(unit: Unit) -> str:
    """Which curves the numbers are from."""
    axis, impedance = unit.measured.on_axis, unit.measured.impedance
    parts = [
        f"{where_in_words(axis.direction)} {axis.id}" if axis else "",
        f"impedance {impedance.id}" if impedance else "",
    ]
    return "; ".join(filter(None, parts))


def _words(unit: Unit) -> str:
    return ", ".join(f"{one.word} {one.tracks}" for one in unit.words.used if not one.likes)


def _of_ballots(unit: Unit) -> str:
    """Those that were heard between two; of a ballot of several pairs are computed afterwards, as a claim says too."""
    own = [one for one in unit.beside if one.shown]
    return "; ".join(f"{one.word.name}, rather than of {one.other} ({one.word.ballot})" for one in own)


def _among_several(unit: Unit) -> str:
    own = [one for one in unit.beside if one.word.first and not one.shown]
    return "; ".join(f"{one.word.name}, more than of {one.other} ({one.word.ballot})" for one in own)


def _described(unit: Unit) -> str:
    """From which week to which."""
    weeks = sorted({week for one in unit.words.used for week in one.weeks})
    return " to ".join(dict.fromkeys((weeks[0], weeks[-1]))) if weeks else ""


def _fact(unit: Unit, what: str) -> str:
    found = next((one for one in unit.facts if one.fact.what == what), None)
    return "" if found is None else f"{found.fact.value}: {found.outcome if found.checkable else 'not checked'}"
