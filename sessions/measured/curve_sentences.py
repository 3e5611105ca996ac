"""What was measured of the setups compared, in plain sentences: to stand beside a verdict, never to change it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np

from audio.curves.impedance import Impedance
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import curve_records, makers_facts
from .audible import SOURCE, threshold_db
from .conditions import ON_AXIS
from .curve_comparison import CurveComparison, compare_setups
from .curve_records import CurveRecord
from .curve_summary import impedance_in_numbers, is_too_near, sensitivity_of
from .makers_facts import CheckedFact
from .most_alike import passed_over
from .rating import least_in_words, rating


@dataclass(frozen=True)
class MeasurementSentences:
    """What is to be said of measured data beside a verdict, and what it rests on: comparisons, facts by setup."""

    sentences: list[str]
    comparisons: list[CurveComparison]
    facts: Mapping[str, Sequence[CheckedFact]] = field(default_factory=dict)

    def to_document(self) -> dict[str, Any]:
        """The sentences, the numbers of each comparison, and makers' facts where there are some."""
        facts = {name: [one.to_document() for one in found] for name, found in self.facts.items()}
        compared = [one.to_document() for one in self.comparisons]
        return {"sentences": self.sentences, "compared": compared, **({"makers_facts": facts} if facts else {})}


def measurements_of(casebook: Casebook, setups: Sequence[Setup]) -> MeasurementSentences:
    """The curves of all setups compared, each with each; one line where they lack."""
    sentences: list[str] = []
    comparisons: list[CurveComparison] = []
    facts: dict[str, list[CheckedFact]] = {}
    without = [setup.name for setup in setups if not curve_records.in_direction(casebook, setup, ON_AXIS)]
    if without:
        sentences.append(
            f"Measured: no curve on axis of {' and '.join(without)}, so nothing to set beside what was heard."
        )
    for one, other in combinations([setup for setup in setups if setup.name not in without], 2):
        try:
            comparison = compare_setups(casebook, one, other)
        except MeasureError as error:
            sentences.append(f"Measured: {one.name} and {other.name} cannot be compared: {error}.")
            continue
        if comparison is not None:
            comparisons.append(comparison)
            sentences += _of_comparison(comparison)
    told = {said for comparison in comparisons for said in comparison.passed_over}
    sentences += [f"Several on axis: {said}." for said in sorted(told)]
    for setup in setups:
        on_axis = curve_records.in_direction(casebook, setup, ON_AXIS)
        if not on_axis:
            continue
        record = _compared(comparisons, setup) or on_axis[-1]
        which = passed_over(setup.name, record, on_axis)
        if which and which not in told:
            sentences.append(f"Several on axis: {which}.")
        if is_too_near(record.conditions):
            away = record.conditions.distance_m
            sentences.append(f"Measured {away:g} m away, so near that no sensitivity of {setup.name} follows.")
        if (level := sensitivity_of(record)) is not None:
            low, high = level.band_hz
            only = " only" if level.is_partial else ""
            sentences.append(
                f"Sensitivity of {setup.name}: {level.db:.1f} dB SPL for 2.83 V at 1 m, the mean from {low:.0f} to "
                f"{high:.0f} Hz{only}."
            )
    for setup in setups:
        impedance = curve_records.impedance_of(casebook, setup)
        if impedance is None:
            continue
        try:
            sentences.append(_of_impedance(setup.name, impedance_in_numbers(impedance)))
        except MeasureError as error:
            sentences.append(f"Measured: the impedance of {setup.name} cannot be told: {error}.")
    for setup in setups:
        checked = makers_facts.of_setup(casebook, setup)
        sentences += [f"{setup.name}: {fact.sentence}." for fact in checked if fact.checkable]
        facts[setup.name] = checked
    return MeasurementSentences(sentences, comparisons, {name: found for name, found in facts.items() if found})


def _compared(comparisons: Sequence[CurveComparison], setup: Setup) -> CurveRecord | None:
    """The curve by which a setup is compared first; None where it is not."""
    own = (record for comparison in comparisons for record in comparison.records if record.setup_id == setup.id)
    return next(own, None)


def most(comparison: CurveComparison) -> str:
    """Where the two differ most, judged by what can be heard there."""
    one, other = comparison.names
    sure = "" if comparison.uncertainty_db is None else f" (± {comparison.uncertainty_db:.1f} dB by repeats)"
    if not comparison.judged_hz:
        return f"no threshold is known where both {one} and {other} were measured, so nothing is judged ({SOURCE})"
    if comparison.audible is None:
        return (
            f"{one} differs from {other} nowhere {_bands(comparison.judged_hz)} by as much as can be heard{sure} "
            f"(thresholds: {SOURCE}){_unsure(comparison)}"
        )
    hz, db, least = comparison.audible
    if comparison.uncertainty_db is not None and abs(db) <= comparison.uncertainty_db:
        heard = f"that is within the uncertainty, so nothing follows ({SOURCE})"
    else:
        heard = f"about {least:.1f} dB is enough to be heard there ({SOURCE})"
    return (
        f"the difference that is easiest to hear lies at {hz:.0f} Hz, where {one} gives {_gives(db)}{sure} than "
        f"{other}; {heard}{_in_db(comparison)}"
    )


def _in_db(comparison: CurveComparison) -> str:
    """Where they differ by most dB, if it is by more than where it can be heard best; otherwise nothing."""
    hz, db = comparison.largest
    heard = comparison.audible
    if heard is None or f"{abs(db):.1f}" == f"{abs(heard[1]):.1f}":
        return ""
    return f"; the largest difference in dB lies at {hz:.0f} Hz: there {comparison.names[0]} gives {_gives(db)}"


def _gives(db: float) -> str:
    return f"{abs(db):.1f} dB {'more' if db > 0 else 'less'}"


def _unsure(comparison: CurveComparison) -> str:
    """That a difference as large as can be heard may hide in the uncertainty; empty where it cannot."""
    if comparison.uncertainty_db is None:
        return ""
    least = min(float(threshold_db(np.array(band)).min()) for band in comparison.judged_hz)
    return "; more may lie within the uncertainty" if comparison.uncertainty_db >= least else ""


def _bands(bands: Sequence[tuple[float, float]]) -> str:
    """From where to where, each."""
    return " and ".join(f"from {low:.0f} to {high:.0f} Hz" for low, high in bands)


def _of_comparison(comparison: CurveComparison) -> list[str]:
    low, high = comparison.band_hz
    parts = [(low, min(high, 20_000)) for low, high in comparison.parts if low < 20_000]
    return [
        f"Measured on axis, {_bands(parts).removeprefix('from ')}, at one level over {low:g} to {high:g} Hz: "
        f"{most(comparison)}.",
        _circumstances(comparison, 0),
        _circumstances(comparison, 1),
        *(f"Measured differently: {note}." for note in comparison.notes),
    ]


def _circumstances(comparison: CurveComparison, place: int) -> str:
    """What was measured where, when and how, as far as it was said."""
    record = comparison.records[place]
    own = record.conditions
    parts = [f"{own.distance_m:g} m" if own.distance_m else "", f"{own.drive_volts:g} V" if own.drive_volts else "",
             f"gate {own.gate_ms:.1f} ms" if own.gate_ms else "", own.room, f"by {own.by}" if own.by else "",
             own.when or record.at[:10]]  # fmt: skip
    return f"{comparison.names[place]} was measured so: {', '.join(part for part in parts if part)}."


def _of_impedance(name: str, found: Impedance) -> str:
    return f"Impedance of {name}: at least {least_in_words(found)} (at {found.minimum_hz:.0f} Hz), {rating(found)}."
