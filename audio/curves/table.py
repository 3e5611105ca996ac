"""Measured curves from text columns: frequency, level or impedance, and phase. Guesses no unit.

What a column holds is said by its heading, by whoever brings it in, or by a clear pattern: a level below 0 can only be
in dB, phases that jump by a turn are what they jump by. Where none of these says it, it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from ..errors import FileError
from .column_units import ENDINGS, in_degrees, in_hz, in_unit
from .columns import Block, read_blocks
from .curve import Numbers
from .headings import FREQUENCY_WORDS, UNIT_WORDS, FrequencyUnit, Heading, PhaseUnit, Unit, meaning

UNIT_BESIDE = re.compile(r"\s*[\[(][^\])]*[\])]\s*$")  # as in "left [dB]"
HALF_WAY_ROUND = 45.0  # beyond it to both sides no column of levels goes; our choice


@dataclass(frozen=True)
class Wish:
    """What somebody says of a file that it does not say itself; None or empty where nothing is said.

    Attributes
    ----------
    unit, phase, frequency
        Of the columns.
    column
        The level's column: its number, counted from 1, or its heading.
    part
        Which of several curves that stand one under the other, counted from 1.
    """

    unit: Unit | None = None
    phase: PhaseUnit | None = None
    frequency: FrequencyUnit | None = None
    column: str = ""
    part: int | None = None


@dataclass(frozen=True, eq=False)
class Table:
    """What a file holds: frequencies, rising; values in `unit`; phase in degrees; what was done, in words.

    Values that came as Pa, V or a linear gain are turned into dB re 20 µPa, 1 V or 1. `name` is the column's heading,
    `read_as` what was understood, in one line.
    """

    hz: Numbers
    values: Numbers
    unit: Unit
    phase_deg: Numbers | None
    notes: tuple[str, ...] = field(default=())
    name: str = ""
    read_as: str = ""


def read_table(path: Path, unit: Unit | None = None, phase: PhaseUnit | None = None) -> Table:
    """The one curve of a text file, as `read_tables` reads it.

    Raises
    ------
    FileError
        As there; if it holds more than one.
    """
    found = read_tables(path, Wish(unit, phase))
    if len(found) > 1:
        raise FileError(f"{path} holds {len(found)} curves side by side; one is wanted here: split the file")
    return found[0]


def read_tables(path: Path, wish: Wish = Wish()) -> list[Table]:
    """The curves of a text file: one, or one for each column whose heading is an angle.

    Separators, decimal commas, comments and gaps as `columns.read_blocks` takes them. Rows without a value are left
    out, unordered frequencies sorted, repeated ones averaged, and each of these is said.

    Raises
    ------
    FileError
        If the file cannot be read or holds no columns of numbers, if its numbers contradict their unit, or if it does
        not say what is needed: a unit, which of several columns, or which of several curves one under the other.
    """
    block = _part(path, read_blocks(path), wish.part)
    headings = _headings(block)
    width = block.numbers.shape[1]
    if width < 2:
        raise FileError(f"{path}: only one column of numbers; a curve needs frequency and value")
    place = _frequency_column(path, headings)
    chosen = _columns(path, block, headings, place, wish)
    used = {place, *(one for one, _ in chosen), *(other for _, other in chosen if other is not None)}
    left = [repr(head.text or f"column {number + 1}") for number, head in enumerate(headings) if number not in used]
    notes = [f"left out: {', '.join(left)}"] if left else []
    return [_table(path, block, headings, (place, level, phase), wish, notes) for level, phase in chosen]


def _part(path: Path, blocks: Sequence[Block], part: int | None) -> Block:
    if len(blocks) == 1 and part in (None, 1):
        return blocks[0]
    lines = ", ".join(str(block.line) for block in blocks)
    if part is None:
        raise FileError(
            f"{path} holds {len(blocks)} curves, one under the other (they begin at lines {lines}); say which with "
            f"--part 1 … {len(blocks)}, or split the file"
        )
    if not 1 <= part <= len(blocks):
        raise FileError(f"{path} holds {len(blocks)} curves (lines {lines}); --part {part} is not among them")
    return blocks[part - 1]


def _headings(block: Block) -> list[Heading]:
    """The headings: of the lines above those that speak of columns; two lines where one names and one gives units."""
    lines = []
    for cells in block.headings:
        read = [meaning(cell) for cell in cells]
        if any(head.quantity == "frequency" for head in read) or all(head.quantity for head in read):
            lines.append(read)
    if not lines:
        return [Heading("", "") for _ in range(block.numbers.shape[1])]
    nearest = lines[0]
    if len(lines) > 1 and any(not head.unit and head.quantity != "other" for head in nearest):
        return [meaning(f"{one.text} {other.text}") for one, other in zip(lines[1], nearest, strict=True)]
    return nearest


def _frequency_column(path: Path, headings: Sequence[Heading]) -> int:
    for place, head in enumerate(headings):
        if head.quantity == "frequency":
            return place
    if headings[0].quantity == "strange":
        raise _not_read(path, headings[0], "Hz, kHz or rad/s")
    if headings[0].quantity:
        raise FileError(f"{path}: its first column is headed {headings[0].text!r}; a curve needs frequencies there")
    return 0


def _columns(
    path: Path, block: Block, headings: Sequence[Heading], place: int, wish: Wish
) -> list[tuple[int, int | None]]:
    """The level's column of each curve, and its phase's."""
    if any(head.quantity == "complex" for head in headings):
        raise FileError(f"{path} holds real and imaginary parts; save it as level and phase")
    known = any(head.quantity for head in headings)
    levels = [n for n, head in enumerate(headings) if n != place and head.quantity in ("level", "")]
    phases = [n for n, head in enumerate(headings) if head.quantity == "phase"]
    if not known and not wish.column:
        if len(levels) > 2:
            raise FileError(
                f"{path} has {len(headings)} columns without headings; say which holds the level with --column "
                f"2 … {len(headings)}"
            )
        if len(levels) == 2:
            if wish.phase is None and not _turns(block.numbers[:, levels[1]], path, wish.unit):
                raise FileError(
                    f"{path}: nothing says what its third column is; say --phase deg or --phase rad, or take the "
                    "second alone with --column 2"
                )
            levels, phases = levels[:1], levels[1:]
    if wish.column:
        level = _named(path, headings, wish.column, place)
        if headings[level].quantity == "strange":
            raise _not_read(path, headings[level], "dB, Pa, V, ohm or a linear gain")
        after = [n for n in phases if n > level and not any(level < other < n for other in levels)]
        if not known and wish.phase and level + 1 < len(headings):
            after = [level + 1]
        if len(levels) == 1 and phases:
            after = phases[:1]
        return [(level, after[0] if after else None)]
    strange = [head for head in headings if head.quantity == "strange"]
    if not levels and strange:
        raise _not_read(path, strange[0], "dB, Pa, V, ohm or a linear gain")
    if not levels:
        raise FileError(f"{path}: no column is headed as a level; name it with --column")
    if wish.unit and len(own := [n for n in levels if headings[n].unit == wish.unit]) == 1:
        levels = own
    if len(levels) == 1:
        return [(levels[0], phases[0] if phases else None)]
    if all(headings[n].angle for n in levels):
        return [(level, _following(level, levels, phases)) for level in levels]
    listed = ", ".join(f"{n + 1} ({headings[n].text!r})" for n in levels)
    raise FileError(f"{path} holds {len(levels)} columns that may be the level: {listed}; say which with --column")


def _not_read(path: Path, head: Heading, units: str) -> FileError:
    return FileError(f"{path}: a column headed {head.text!r} is not read; write it in {units}, and head it so")


def _following(level: int, levels: Sequence[int], phases: Sequence[int]) -> int | None:
    """The phase column that stands after a level's, before the next level's."""
    end = min((other for other in levels if other > level), default=10**9)
    return next((n for n in phases if level < n < end), None)


def _named(path: Path, headings: Sequence[Heading], column: str, place: int) -> int:
    named = [n for n, head in enumerate(headings) if head.text and head.text.lower() == column.lower()]
    if not named:  # without the unit beside the name
        bare = [UNIT_BESIDE.sub("", head.text).lower() if head.text else "" for head in headings]
        named = [n for n, text in enumerate(bare) if text == column.strip().lower()]
    if not named and column.isdecimal() and 1 <= int(column) <= len(headings):
        named = [int(column) - 1]
    if len(named) != 1 or named[0] == place:
        listed = ", ".join(f"{n + 1} ({head.text!r})" if head.text else str(n + 1) for n, head in enumerate(headings))
        raise FileError(f"{path}: --column {column} names no column of levels there; its columns are {listed}")
    return named[0]


def _turns(values: Numbers, path: Path, unit: Unit | None) -> bool:
    """Whether a column can only be phases."""
    known = values[~np.isnan(values)]
    if path.suffix.lower() in ENDINGS:
        return True
    if unit not in (None, "db") and (known < 0).any():
        return True
    jumps = np.abs(np.diff(known))
    return bool(
        (jumps > 270).any() or (known.max(initial=0) > HALF_WAY_ROUND and known.min(initial=0) < -HALF_WAY_ROUND)
    )


def _table(
    path: Path,
    block: Block,
    headings: Sequence[Heading],
    places: tuple[int, int, int | None],
    wish: Wish,
    said: Sequence[str],
) -> Table:
    """One curve: its rows in Hz, in its unit and in degrees."""
    notes = list(said)
    used = [place for place in places if place is not None]
    numbers = block.numbers[:, used]
    gaps = np.isnan(numbers).any(axis=1)
    if gaps.any():
        where = ", ".join(f"{hz:g}" for hz in numbers[gaps, 0][:3]) + (" …" if gaps.sum() > 3 else "")
        rows = "1 row without a value was" if gaps.sum() == 1 else f"{int(gaps.sum())} rows without a value were"
        notes.append(f"{rows} left out (at {where})")
        numbers = numbers[~gaps]
    frequency, level, phase = places
    heard_hz, hz_unit = in_hz(path, numbers[:, 0] * headings[frequency].scale, headings[frequency], wish.frequency)
    numbers = np.column_stack([heard_hz, numbers[:, 1:]])
    numbers = _above_zero(path, numbers, notes)
    if len(numbers) < 2:
        raise FileError(f"{path}: a curve needs at least two frequencies and a value for each")
    values, unit = in_unit(path, numbers[:, 1] * headings[level].scale, headings[level], wish.unit)
    angles, turned = None, ""
    if phase is not None:
        angles, turned = in_degrees(path, numbers[:, 2] * headings[phase].scale, headings[phase], wish.phase)
    made = _ordered(path, Table(numbers[:, 0], values, unit, angles, tuple(notes), headings[level].text))
    low, high = made.hz[0], made.hz[-1]
    words = [FREQUENCY_WORDS[hz_unit], UNIT_WORDS[unit]] + ([turned] if turned else [])
    return replace(made, read_as=f"{', '.join(words)}; {len(made.hz)} points, {_hz(low)}\u2013{_hz(high)}")


def _hz(value: float) -> str:
    return f"{value / 1000:.4g} kHz" if value >= 1000 else f"{value:.4g} Hz"


def _above_zero(path: Path, numbers: Numbers, notes: list[str]) -> Numbers:
    """The rows above 0 Hz, which has no place on a logarithmic scale; a row of 0 Hz is left out and said."""
    low = numbers[:, 0] <= 0
    if (numbers[low, 0] < 0).any() or low.sum() > 1:
        raise FileError(
            f"{path}: a frequency of {numbers[low, 0].min():g} Hz; the first column must hold frequencies above 0"
        )
    if low.any():
        notes.append("its row at 0 Hz was left out")
    return numbers[~low]


def _ordered(path: Path, found: Table) -> Table:
    notes = list(found.notes)
    order = np.argsort(found.hz, kind="stable")
    falls = np.diff(found.hz) < 0
    if falls.any():
        notes.append("its frequencies were not in order and were sorted")
    hz, values = found.hz[order], found.values[order]
    angles = None if found.phase_deg is None else found.phase_deg[order]
    same = np.concatenate([[False], np.diff(hz) == 0])
    if same.any():
        groups = np.cumsum(~same) - 1
        apart = np.zeros(groups[-1] + 1)
        np.maximum.at(apart, groups, np.abs(values - values[~same][groups]))
        worst, every = int(np.argmax(apart)), len(apart) > 2 and 2 * (apart > 0).sum() > len(apart)
        if found.unit != "ohm" and (apart.max() > 3 or every):
            raise FileError(
                f"{path}: {hz[~same][worst]:g} Hz stands there twice, {apart.max():.1f} dB apart"
                f"{', and most others too' if every else ''}; are these two curves in one file? Split them"
            )
        counts = np.bincount(groups)
        notes.append(f"{int(same.sum())} repeated frequencies were averaged")
        values = np.bincount(groups, values) / counts
        if angles is not None:
            turned = np.bincount(groups, np.cos(np.radians(angles))) + 1j * np.bincount(
                groups, np.sin(np.radians(angles))
            )
            angles = np.degrees(np.angle(turned))
        hz = hz[~same]
    return replace(found, hz=hz, values=values, phase_deg=angles, notes=tuple(notes))
