"""What stands under a figure: how its curves were measured, said once where they agree, and where they differ. Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from ..curve_records import DIRECTED, CurveRecord

NOT_SAID = "not said"
MOST_GROUPS, MOST_LETTERS = 3, 24  # of values that differ, and of the names with one: more are told by their number


def measured_in_words(record: CurveRecord) -> str:
    """Room, distance, voltage or SPL, gate, earlier smoothing and date, as far as they were said."""
    return "; ".join(part for part in _parts(record).values() if part)


def measured_together(records: Mapping[str, CurveRecord], *, but_for: Collection[str] = ()) -> str:
    """The same of all curves of a figure, by what each is called there; "differs" where they do.

    Parameters
    ----------
    but_for
        Conditions that the figure's own names tell ("drive").
    """
    parts = {name: _parts(record) for name, record in records.items()}
    if not parts:
        return ""
    said = []
    for what in next(iter(parts.values())):
        groups: dict[str, list[str]] = {}
        for name, own in parts.items():
            groups.setdefault(own[what] or NOT_SAID, []).append(name)
        if what in but_for or set(groups) == {NOT_SAID}:
            continue
        said.append(next(iter(groups)) if len(groups) == 1 else f"{what} differs: {_groups(groups)}")
    return "; ".join(said)


def smoothing_in_words(smoothing: float) -> str:
    """The smoothing to 1/`smoothing` octave (0: none) as figures state it."""
    return f"1/{smoothing:g}-octave smoothing" if smoothing else "not smoothed"


def _parts(record: CurveRecord) -> dict[str, str]:
    """Each condition in words, empty where nobody said; of an impedance no sound is measured, nor gate and distance."""
    stated, heard = record.conditions, record.kind != "impedance"
    gated = heard and (stated.gate_ms or record.kind == "impulse")  # where nobody said, ours
    smoothed = record.kind in DIRECTED and stated.smoothing
    return {
        "room": stated.room if heard else "",
        "distance": f"{stated.distance_m:.3g} m" if heard and stated.distance_m else "",
        "drive": f"{stated.drive_volts:.3g} V" if stated.drive_volts else "",
        "level": "dB SPL" if stated.spl else "",
        "gate": "not gated" if stated.ungated else _gate(record) if gated else "",
        "earlier smoothing": f"smoothed to 1/{stated.smoothing:g} octave before it was brought in" if smoothed else "",
        "note": "" if heard else stated.note,  # such as the resistor in series, which nothing else holds
        "date": f"measured {stated.when}" if stated.when else f"kept {record.at[:10]}",
    }


def _gate(record: CurveRecord) -> str:
    return f"gate {1000 * record.conditions.gate_s:.3g} ms, {record.conditions.gate_window}"


def _groups(groups: dict[str, list[str]]) -> str:
    """Which curves have which value; where these are many, only how many."""
    if len(groups) > MOST_GROUPS:
        return f"{len(groups)} values, {next(iter(groups))} to {next(reversed(groups))}"
    told = {value: ", ".join(names) for value, names in groups.items()}
    if max(map(len, told.values())) > MOST_LETTERS:
        told = {value: "1 curve" if len(names) == 1 else f"{len(names)} curves" for value, names in groups.items()}
    return ", ".join(f"{value} ({names})" for value, names in told.items())
