"""Measured data beside a comparison, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from audio.curves.impedance import read_impedance
from audio.errors import MeasureError

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from . import comparison, curve_records
from .comparison import Compared


@dataclass(frozen=True)
class Beside:
    """What is to be said beside a verdict, and the comparisons it rests on."""

    sentences: list[str]
    compared: list[Compared]

    def to_document(self) -> dict[str, Any]:
        """The numbers, as the command line prints them."""
        return {"sentences": self.sentences, "compared": [one.to_document() for one in self.compared]}


def beside(casebook: Casebook, setups: Sequence[Setup]) -> Beside:
    """The curves of all setups compared, each with each; one line where they lack."""
    told: list[str] = []
    found: list[Compared] = []
    without = [str(setup.name) for setup in setups if comparison.on_axis(casebook, setup) is None]
    if without:
        told.append(f"Measured: no curve on axis of {' and '.join(without)}, so nothing to set beside what was heard.")
    for one, other in combinations([setup for setup in setups if setup.name not in without], 2):
        try:
            compared = comparison.compared(casebook, one, other)
        except MeasureError as error:
            told.append(f"Measured: {one.name} and {other.name} cannot be compared: {error}.")
            continue
        if compared is not None:
            found.append(compared)
            told.append(_sentence(compared))
            told += [_circumstances(casebook, setup) for setup in (one, other)]
            told += [f"Measured differently: {note}." for note in compared.notes]
    told += [line for setup in setups if (line := _impedance(casebook, setup))]
    return Beside(told, found)


def _sentence(compared: Compared) -> str:
    hz, db = compared.largest
    low, high = compared.band_hz
    one, other = compared.names
    from_hz, to_hz = compared.apart.band
    more = "more" if db > 0 else "less"
    sure = "" if compared.uncertainty_db is None else f" (± {compared.uncertainty_db:.1f} dB by repeats)"
    return (
        f"Measured on axis, {from_hz:.0f} to {min(to_hz, 20_000):.0f} Hz, at one level over {low:g} to {high:g} Hz: "
        f"{one} differs most from {other} at {hz:.0f} Hz, where it gives {abs(db):.1f} dB {more}{sure}."
    )


def _circumstances(casebook: Casebook, setup: Setup) -> str:
    """What was measured where, when and how, as far as it was said."""
    kept = comparison.on_axis(casebook, setup)
    assert kept is not None
    own = kept.conditions
    parts = [f"{own.distance_m:g} m" if own.distance_m else "", f"{own.drive_volts:g} V" if own.drive_volts else "",
             f"gate {own.gate_ms:.1f} ms" if own.gate_ms else "", own.room, f"by {own.by}" if own.by else "",
             own.when or kept.row["at"][:10]]  # fmt: skip
    return f"{setup.name} was measured so: {', '.join(part for part in parts if part)}."


def _impedance(casebook: Casebook, setup: Setup) -> str:
    held = curve_records.impedance_of(casebook, setup)
    if held is None:
        return ""
    found = read_impedance(held.data[:, 0], held.data[:, 1], held.data[:, 2] if held.data.shape[1] > 2 else None)
    rating = f"supports a rating of {found.supports_ohm} ohm" if found.supports_ohm else "supports no usual rating"
    return f"Impedance of {setup.name}: at least {found.minimum_ohm:.1f} ohm (at {found.minimum_hz:.0f} Hz), {rating}."
