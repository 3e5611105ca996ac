"""A microphone's own file: frequency and dB, and what it states of an absolute sensitivity. Reads one file.

Suppliers write the sensitivity as a comment, as a first row that is out of order, or into every row. None of these may
move a curve unseen: the first two are kept as text and left out of the numbers, the third is asked about.
"""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np

from ..errors import FileError
from ..typed_numbers import number as as_number
from .microphone import Calibration

Meaning = Literal["response", "correction"]
Zero = Literal["", "1kHz", "kept"]

REFERENCE_HZ = 1000.0
ABSOLUTE_FROM_DB = 6.0  # at 1 kHz: no measuring microphone departs so far from its own reference there; our choice
MOST_ROWS = 100_000
LARGEST_DB = 60.0  # no microphone's deviation; a number above it is no decibel
STATED = re.compile(r"sens|\b1(000|k)\s*hz\b", re.IGNORECASE)


def read_calibration(path: Path, meaning: Meaning, zero: Zero = "") -> Calibration:
    """A calibration file: lines of frequency and dB (further columns are ignored), comments and headers allowed.

    Parameters
    ----------
    meaning
        ``response``: the file lists what the microphone itself does (it is taken off). ``correction``: it lists what to
        add. Suppliers differ and the file does not say; ask whoever measured it.
    zero
        Where its numbers hold an absolute sensitivity: ``1kHz`` sets them to 0 dB there, ``kept`` takes them as they
        stand. Empty: such a file is refused, and this is asked.

    Raises
    ------
    FileError
        If the file cannot be read, holds no such lines, a frequency twice, or numbers that cannot be meant.
    """
    try:
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as error:
        raise FileError(f"cannot read the calibration file {path}: {error.strerror}; check its name") from error
    lines = text.splitlines()[:MOST_ROWS]
    rows = [row for number, line in enumerate(lines, 1) if (row := _row(path, number, line))]
    if len(rows) < 2:
        raise FileError(f"{path} holds no calibration: lines of frequency (Hz) and level (dB) are expected")
    stated = [_said(line) for line in lines if _comment(line.strip()) and _states(line)]
    if apart := _apart(rows):
        stated.append(f"{apart[0]:g} Hz {apart[1]:g}")
        rows = rows[1:]
    rows.sort()
    freqs, levels = [freq for freq, _ in rows], np.array([level for _, level in rows])
    twice = next((one for one, other in pairwise(freqs) if one == other), None)
    if twice is not None:
        raise FileError(f"{path} gives {twice:g} Hz twice; keep one of the two lines")
    if freqs[0] <= 0 or freqs[-1] < REFERENCE_HZ or np.abs(levels).max() > LARGEST_DB:
        raise FileError(
            f"{path} does not look like a calibration: frequencies in Hz (here {freqs[0]:g} to {freqs[-1]:g}) and "
            f"deviations in dB up to ±{LARGEST_DB:g} are expected"
        )
    at_reference = float(np.interp(np.log(REFERENCE_HZ), np.log(freqs), levels))
    if abs(at_reference) > ABSOLUTE_FROM_DB and not zero:
        raise FileError(
            f"{path} says {at_reference:+.1f} dB at 1 kHz: is that the microphone's absolute sensitivity? Say "
            "--file-zero 1kHz (its numbers are set to 0 dB there) or --file-zero kept (they are taken as they stand)"
        )
    if zero == "1kHz":
        levels = levels - at_reference
        stated += [f"{at_reference:+.2f} dB at 1 kHz, taken off"] if at_reference else []
    sign = 1.0 if meaning == "response" else -1.0
    return Calibration(tuple(freqs), tuple((sign * levels).tolist()), f"{path.name}, its {meaning}", "; ".join(stated))


def _row(path: Path, number: int, line: str) -> tuple[float, float] | None:
    """Frequency and dB of one line; None for a comment, a header or an empty line."""
    text = line.strip().replace("\u2212", "-")  # a typographic minus
    if not text or _comment(text):
        return None
    decimal_comma = re.search(r"\d,\d", text) and "." not in text and re.search(r"[;\t ]", text)
    parts = re.split(r"[;\s]+" if decimal_comma else r"[;,\s]+", text)
    values = [as_number(part.replace(",", ".")) for part in parts[:2]]
    if len(values) < 2 or values[0] is None or values[1] is None:
        raise FileError(
            f"{path}, line {number}: {text[:40]!r} is not frequency and dB; mark it as a comment with * or #, or take "
            "it out"
        )
    return values[0], values[1]


def _comment(text: str) -> bool:
    return bool(text) and (text[0] in "*#;\"'!/" or text[0].isalpha())


def _states(line: str) -> bool:
    """Whether a comment states a sensitivity: it speaks of one, or of 1 kHz, and holds a number beside that."""
    return bool(STATED.search(line)) and bool(re.search(r"[-+]?\d+([.,]\d+)?\s*(dB|mV|V/|$)", line.strip(" \t\"'")))


def _said(line: str) -> str:
    return " ".join(line.strip(" \t*#;\"'!/").split())[:80]


def _apart(rows: list[tuple[float, float]]) -> tuple[float, float] | None:
    """A first row that is out of order and far from what the others say there: a sensitivity, and no deviation."""
    (freq, level), others = rows[0], sorted(rows[1:])
    if len(others) < 2 or freq <= rows[1][0] or rows[1:] != others:
        return None
    there = float(np.interp(freq, [one for one, _ in others], [one for _, one in others]))
    return rows[0] if abs(level - there) > ABSOLUTE_FROM_DB else None
