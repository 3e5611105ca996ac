"""Measured curves from text columns: frequency, level or impedance, and phase. Reads one file; guesses no unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import pi
from pathlib import Path
from typing import Literal

import numpy as np

from ..errors import FileError
from .curve import Numbers

Unit = Literal["db", "pa", "v", "ohm"]
PhaseUnit = Literal["deg", "rad"]
MOST_BYTES = 50_000_000
COMMENT = ("#", "*", ";", "//", "!", "%", '"')
NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eEdD][+-]?\d+)?$")
LARGEST_DB, LEAST_DB = 200.0, -250.0


@dataclass(frozen=True, eq=False)
class Table:
    """What a file holds: frequencies, rising; values in `unit`; phase in degrees; what was done, in words."""

    hz: Numbers
    values: Numbers
    unit: Unit
    phase_deg: Numbers | None
    notes: tuple[str, ...] = field(default=())


def read_table(path: Path, unit: Unit = "db", phase: PhaseUnit | None = None) -> Table:
    """The columns of a text file: frequency, value, and, where there is a third, phase.

    Commas, semicolons, tabs or spaces between them; decimal points or commas; comments, headers and empty lines are
    passed over. Unordered frequencies are sorted, repeated ones averaged, and both are said.

    Parameters
    ----------
    unit
        What the second column holds: ``db``, ``pa`` or ``v`` (turned into dB re 20 µPa or 1 V), ``ohm``.
    phase
        The unit of the third column, where its numbers could be either.

    Raises
    ------
    FileError
        If the file cannot be read, holds no columns of numbers, or its numbers contradict the unit named.
    """
    rows, header = _rows(path)
    widths = {len(row) for row in rows}
    if len(widths) > 1:
        raise FileError(
            f"{path}: lines hold {min(widths)} to {max(widths)} numbers; every line needs the same columns: frequency, "
            "value and perhaps phase"
        )
    if widths.pop() < 2:
        raise FileError(f"{path}: only one column of numbers; a curve needs frequency and value")
    table = np.array(rows)
    hz, values = table[:, 0], table[:, 1]
    if (hz <= 0).any():
        place = int(np.argmax(hz <= 0))
        if hz[place] == 0 and (hz > 0).sum() == len(hz) - 1:  # 0 Hz has no place on a logarithmic scale
            table = np.delete(table, place, axis=0)
            hz, values = table[:, 0], table[:, 1]
        else:
            raise FileError(f"{path}: a frequency of {hz[place]:g} Hz; the first column must hold frequencies above 0")
    notes: list[str] = []
    values = _in_unit(path, values, unit, header)
    angles = _phase(path, table[:, 2], phase) if table.shape[1] > 2 else None
    if len(hz) < 2:
        raise FileError(f"{path}: a curve needs at least two frequencies")
    return _ordered(path, hz, values, unit, angles, notes)


def _rows(path: Path) -> tuple[list[list[float]], str]:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise FileError(f"cannot read {path}: {error.strerror}; check the name and its permissions") from error
    if len(raw) > MOST_BYTES:
        raise FileError(f"{path} is larger than a text file of a curve can be; an impulse response is added as WAV")
    text = _decoded(path, raw)
    lines = [line.strip() for line in text.splitlines() if line.strip() and not line.strip().startswith(COMMENT)]
    comma_between = _comma_between(lines)
    rows: list[list[float]] = []
    header = ""
    for number, line in enumerate(lines, 1):
        parts = _parts(line, comma_between)
        if all(NUMBER.match(part) for part in parts) and parts:
            rows.append([_number(part) for part in parts])
        elif rows:
            raise FileError(f"{path}: line {number} of the data, {line[:40]!r}, is no row of numbers; mend it")
        else:
            header = f"{header} {line}".lower()
    if not rows:
        raise FileError(f"{path} holds no columns of numbers; give a text file with frequency in Hz and level in dB")
    comments = " ".join(line.lower() for line in text.splitlines() if line.strip().startswith(COMMENT))
    return rows, header + " " + comments


def _decoded(path: Path, raw: bytes) -> str:
    for name in ("utf-8-sig", "utf-16") if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(name)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise FileError(f"{path} is not a text file; give columns of numbers, or a WAV or SOFA file by its ending")


def _comma_between(lines: Sequence[str]) -> bool:
    """Whether commas stand between columns; otherwise they are decimal commas."""
    data = [line for line in lines if re.match(r"^[+-]?[\d.,]", line)]
    if any(";" in line or "\t" in line for line in data):
        return False
    if any(re.search(r"\d\.\d", line) for line in data):
        return any("," in line for line in data)
    # only commas: between columns where some line has no other separator
    return any("," in line and not re.search(r"\d\s+[+-]?[\d,]", line) for line in data)


def _parts(line: str, comma_between: bool) -> list[str]:
    if ";" in line or "\t" in line:
        parts = re.split(r"[;\t]", line)
    elif comma_between:
        parts = line.split(",")
    else:
        parts = line.split()
    return [part.strip() for part in parts if part.strip()]


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("d", "e").replace("D", "e"))


def _in_unit(path: Path, values: Numbers, unit: Unit, header: str) -> Numbers:
    named = re.search(r"\b(pa|pascal|volts?|mv|ohms?|Ω|impedance)\b", header)
    if unit == "db":
        if named and not re.search(r"\bdb", header):
            raise FileError(f"{path}: its header speaks of {named[0]!r}, not of dB; name it with --unit pa, v or ohm")
        if values.max() > LARGEST_DB or values.min() < LEAST_DB:
            raise FileError(
                f"{path}: values from {values.min():g} to {values.max():g} are no dB; name their unit with --unit pa, "
                "v or ohm"
            )
        return values
    if (values <= 0).any():
        raise FileError(f"{path}: {unit} must be above 0 everywhere, and some values are not; are they dB?")
    if unit == "ohm":
        return values
    return 20 * np.log10(values / (20e-6 if unit == "pa" else 1.0))


def _phase(path: Path, angles: Numbers, unit: PhaseUnit | None) -> Numbers:
    if unit is None and float(np.abs(angles).max()) <= pi * 1.001 and float(np.abs(angles).max()) > 0:
        raise FileError(
            f"{path}: its phases lie within ±{np.abs(angles).max():.2f}, which could be degrees or radians; say which "
            "with --phase deg or --phase rad"
        )
    return np.degrees(angles) if unit == "rad" else angles


def _ordered(path: Path, hz: Numbers, values: Numbers, unit: Unit, angles: Numbers | None, notes: list[str]) -> Table:
    order = np.argsort(hz, kind="stable")
    if (np.diff(hz) < 0).any():
        notes.append("its frequencies were not in order and were sorted")
    hz, values = hz[order], values[order]
    angles = None if angles is None else angles[order]
    same = np.concatenate([[False], np.diff(hz) == 0])
    if same.any():
        groups = np.cumsum(~same) - 1
        apart = np.zeros(groups[-1] + 1)
        np.maximum.at(apart, groups, np.abs(values - values[~same][groups]))
        if unit != "ohm" and apart.max() > 3:
            raise FileError(
                f"{path}: {hz[~same][int(np.argmax(apart))]:g} Hz stands there twice, {apart.max():.1f} dB apart; are "
                "these two curves in one file? Split them"
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
    return Table(hz, values, unit, angles, tuple(notes))
