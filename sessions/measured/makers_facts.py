"""What a maker states beside what was measured: agrees, does not, or cannot be told from these data.

Each judgement says its numbers, so that a reader may judge otherwise. The margins are our choice: two good
impedance meters, coils of another temperature and two units of one model differ by some per cent, microphones and
places to measure from by a decibel.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from audio.curves import gaps, impedance, sensitivity
from audio.curves.curve import mean_level
from audio.curves.impedance import Impedance
from audio.errors import AudioError

from ..casebook import documents
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import curve_records, fact_rows, stated_values
from .curve_records import DIRECTED, CurveRecord, SetupCurves
from .curve_summary import LEAST_DISTANCE_M, impedance_in_numbers, is_too_near, sensitivity_of
from .fact_rows import Fact
from .frequency_response import BAND_HZ, response_of, shown
from .most_alike import passed_over
from .rating import is_at_the_limit, least_in_words, rating
from .stated_values import MINIMUM, NOMINAL, RANGE, SENSITIVITY
from .sweep_levels import louder_of

Outcome = Literal["agrees", "does not agree", "cannot be told from these data"]
AGREES: Outcome = "agrees"
DIFFERS: Outcome = "does not agree"
OPEN: Outcome = "cannot be told from these data"

NEAR_OHM = 0.1  # of a minimum
NEAR_OCTAVES = 1 / 3  # of its frequency: minima are broad
NEAR_DB, APART_DB = 1.0, 2.0  # of a sensitivity; in between it cannot be told
EDGE_DB = 0.1  # of these: nearer than that it is at the limit
AT_THE_LIMIT_DB = 0.5  # of a range: nearer to its tolerance than this it cannot be told
RANGE_SMOOTHING = 6.0
END = 1.05  # a band is covered if its ends are, to this factor


@dataclass(frozen=True)
class CheckedFact:
    """A maker's fact, what was measured beside it in words, and what follows; `checkable` if curves can tell of it."""

    fact: Fact
    measured: str
    outcome: Outcome
    checkable: bool = True

    @property
    def sentence(self) -> str:
        """The whole in words."""
        return (
            f"the maker states {self.fact.what} {self.fact.value} ({self.fact.source}); {self.measured}: {self.outcome}"
        )

    def to_document(self) -> dict[str, Any]:
        """The parts by name."""
        whole: dict[str, Any] = documents.plain(self.fact)
        return whole | {"measured": self.measured, "outcome": self.outcome, "checkable": self.checkable}


def of_setup(casebook: Casebook, setup: Setup) -> list[CheckedFact]:
    """What the maker of a setup states, each beside what was measured of it."""
    facts = fact_rows.of_setup(casebook, setup)
    return checked(facts, curve_records.of_setup(casebook, setup)) if facts else []


def checked(facts: Sequence[Fact], measured: SetupCurves) -> list[CheckedFact]:
    """Every fact, beside what was measured of it."""
    if not facts:
        return []
    checks: dict[str, Callable[[Fact], CheckedFact]] = {
        NOMINAL: lambda fact: _nominal(fact, measured),
        MINIMUM: lambda fact: _minimum(fact, measured),
        SENSITIVITY: lambda fact: _named(_sensitivity(fact, facts, measured), measured),
        RANGE: lambda fact: _named(_range(fact, measured), measured),
    }
    made = []
    for fact in facts:
        if fact.what not in checks:
            made.append(CheckedFact(fact, "no curve tells of it", OPEN, checkable=False))
            continue
        if not stated_values.read(fact.what, fact.value):
            made.append(CheckedFact(fact, "its value is not understood whole", OPEN))
            continue
        try:
            made.append(checks[fact.what](fact))
        except AudioError as error:
            made.append(CheckedFact(fact, str(error), OPEN))
    return made


def _named(made: CheckedFact, measured: SetupCurves) -> CheckedFact:
    """What was measured, with the curve it was read from, how that was measured, and which others there are."""
    record = measured.on_axis
    if record is None:
        return made
    stated = record.conditions
    how = ", ".join(part for part in (stated.in_words(), stated.when or record.at[:10]) if part)
    more = filter(None, (passed_over("on axis", record, measured.all_on_axis), louder_of(measured)))
    return replace(made, measured=f"{made.measured} ({'; '.join([f'{record.id}: {how}', *more])})")


def _nominal(fact: Fact, measured: SetupCurves) -> CheckedFact:
    stated, record = stated_values.ohms(fact.value, fact.what), measured.impedance
    if stated is None or record is None:
        return CheckedFact(fact, "no impedance was measured", OPEN)
    found, least = impedance_in_numbers(record), impedance.SHARE * stated
    near = is_at_the_limit(found.minimum_ohm, least)
    smallest = f"{found.minimum_ohm:.2f} ohm" if near else least_in_words(found)
    told = "" if found.unmeasured or near else f"; it {rating(found)}"
    words = (
        f"the least is {smallest} at {found.minimum_hz:.0f} Hz, where a rating of {stated:g} ohm asks for "
        f"{least:.{2 if near else 1}f}{told}"
    )
    if near:
        return CheckedFact(fact, f"{words}; that is at the limit", OPEN)
    if found.minimum_ohm < least * (1 - 1e-9):
        return CheckedFact(fact, words, DIFFERS)
    return _if_covered(fact, words, found)


def _minimum(fact: Fact, measured: SetupCurves) -> CheckedFact:
    stated, record = stated_values.ohms(fact.value, fact.what), measured.impedance
    if stated is None or record is None:
        return CheckedFact(fact, "no impedance was measured", OPEN)
    found = impedance_in_numbers(record)
    near = is_at_the_limit(found.minimum_ohm, stated * (1 - NEAR_OHM))
    words = f"the least is {found.minimum_ohm:.{2 if near else 1}f} ohm at {found.minimum_hz:.0f} Hz"
    words += _stated_place(record, found, stated_values.ohms_at_hz(fact.value))
    if near:
        asked = stated * (1 - NEAR_OHM)
        return CheckedFact(fact, f"{words}; that is at the limit, {asked:.2f} ohm or 10 % less than stated", OPEN)
    if found.minimum_ohm < stated * (1 - NEAR_OHM):
        return CheckedFact(fact, words, DIFFERS)
    if found.minimum_ohm > stated * (1 + NEAR_OHM):
        return _if_covered(fact, f"{words}, at least what is stated and so easier on an amplifier", found)
    return _if_covered(fact, words, found)


def _stated_place(record: CurveRecord, found: Impedance, stated_hz: float | None) -> str:
    """Where the maker states the least, if it was measured elsewhere, and what was measured there."""
    if stated_hz is None or abs(np.log2(stated_hz / found.minimum_hz)) <= NEAR_OCTAVES:
        return ""
    other = f", not at the {stated_hz:g} Hz stated"
    if not record.hz[0] <= stated_hz <= record.hz[-1]:
        return f"{other}, where nothing was measured"
    there = float(np.interp(np.log(stated_hz), np.log(record.hz), record.values))
    return f"{other}, where it is {there:.1f} ohm (what follows is of the value alone)"


def _if_covered(fact: Fact, words: str, found: Impedance) -> CheckedFact:
    """That it agrees, if the impedance was measured over all that can be heard; otherwise it may be lower elsewhere."""
    if found.unmeasured:
        return CheckedFact(fact, f"{words}, {found.unmeasured}", OPEN)
    return CheckedFact(fact, words, AGREES)


def _sensitivity(fact: Fact, facts: Sequence[Fact], measured: SetupCurves) -> CheckedFact:
    stated = stated_values.sensitivity(fact.value)
    found = sensitivity_of(measured.on_axis) if measured.on_axis else None
    if stated is None or found is None:
        if measured.on_axis is None:
            return CheckedFact(fact, _no_axis(measured), OPEN)
        if is_too_near(measured.on_axis.conditions):
            away = measured.on_axis.conditions.distance_m
            return CheckedFact(fact, f"{away:g} m is too near: none follows below {LEAST_DISTANCE_M:g} m", OPEN)
        if (curve := response_of(measured.on_axis)).is_few:
            return CheckedFact(fact, curve.lacks, OPEN)
        return CheckedFact(fact, "that needs a curve on axis in dB SPL, its drive voltage and its distance", OPEN)
    level, (low, high) = found.db, found.band_hz
    words = f"{level:.1f} dB for 2.83 V at 1 m ({low:.0f} to {high:.0f} Hz)"
    if found.is_partial:
        return CheckedFact(fact, f"{words}, and not all of {BAND_HZ[0]:g} to {BAND_HZ[1]:g} Hz was measured", OPEN)
    if stated.for_watt is None:
        return CheckedFact(fact, f"{words}, and the maker does not say for which voltage or power", OPEN)
    if stated.for_watt:
        ohm = next((stated_values.ohms(one.value, NOMINAL) for one in facts if one.what == NOMINAL), None)
        if ohm is None:
            return CheckedFact(fact, f"{words}, and without a nominal impedance nobody knows what 1 W is", OPEN)
        level = sensitivity.at_one_watt(level, ohm)
        words += f", {level:.1f} dB for 1 W into {ohm:g} ohm"
    apart = level - (stated.level_db + 20 * float(np.log10(stated.distance_m)))
    near = abs(round(apart, 2))
    edge = any(abs(near - limit) < EDGE_DB for limit in (NEAR_DB, APART_DB))
    words += f", {abs(apart):.{2 if edge else 1}f} dB {'more' if apart > 0 else 'less'} than stated"
    if edge:
        return CheckedFact(fact, f"{words}; that is at the limit", OPEN)
    return CheckedFact(fact, words, AGREES if near <= NEAR_DB else DIFFERS if near > APART_DB else OPEN)


def _no_axis(measured: SetupCurves) -> str:
    others = any(one.kind in DIRECTED for one in measured.everything)
    words = "that needs a curve on axis"
    return f"{words}; there is no on-axis curve, only others that do not stand for the setup" if others else words


def _range(fact: Fact, measured: SetupCurves) -> CheckedFact:
    stated, record = stated_values.band(fact.value), measured.on_axis
    if stated is None or record is None:
        return CheckedFact(fact, _no_axis(measured), OPEN)
    if stated.below_db is None:
        return CheckedFact(fact, "without a tolerance nothing follows from a range", OPEN)
    if 0 < record.conditions.smoothing < RANGE_SMOOTHING:
        before = f"the curve was smoothed to 1/{record.conditions.smoothing:g} octave before it was brought in"
        return CheckedFact(fact, f"{before}, and a range is judged at 1/{RANGE_SMOOTHING:g} octave", OPEN)
    curve = shown(response_of(record), RANGE_SMOOTHING)
    if curve.is_few:
        return CheckedFact(fact, curve.lacks, OPEN)
    low, high = max(stated.low_hz, curve.band[0]), min(stated.high_hz, curve.band[1])
    inside = (curve.hz >= low * (1 - 1e-9)) & (curve.hz <= high * (1 + 1e-9)) & curve.valid()
    if inside.sum() < 2:
        return CheckedFact(fact, "nothing in it was measured validly", OPEN)
    hz, level = curve.hz[inside], curve.level_db[inside]
    least, most = int(np.argmin(level)), int(np.argmax(level))
    within = f"from {hz[0]:.0f} to {hz[-1]:.0f} Hz, 1/{RANGE_SMOOTHING:g} octave,"
    if stated.above_db is None:
        mean = mean_level(curve, max(BAND_HZ[0], low), min(BAND_HZ[1], high))
        used, allowed = mean - float(level[least]), stated.below_db
        words = f"{within} it falls at most {max(used, 0):.1f} dB below its mean level (at {hz[least]:.0f} Hz)"
    else:
        used, allowed = float(level[most] - level[least]), stated.above_db + stated.below_db
        words = (
            f"{within} it spans {used:.1f} dB (lowest at {hz[least]:.0f} Hz, highest at {hz[most]:.0f} Hz), where "
            f"{allowed:g} dB are allowed"
        )
    if abs(used - allowed) <= AT_THE_LIMIT_DB:
        return CheckedFact(fact, f"{words}; that is at the limit", OPEN)
    if used > allowed:
        return CheckedFact(fact, words, DIFFERS)
    over = tuple(gap for gap in curve.gaps_hz if gap[0] < high and gap[1] > low)
    if over:
        return CheckedFact(fact, f"{words}; {gaps.in_words(over)}", OPEN)
    if low > stated.low_hz * END or high < stated.high_hz / END:
        return CheckedFact(fact, f"{words}; beyond that nothing is valid", OPEN)
    return CheckedFact(fact, words, AGREES)
