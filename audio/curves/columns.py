"""Columns of numbers out of a text file, as they stand there: headings, rows, gaps. Reads one file; knows no unit.

A cell that is empty or says that there is no number stays a gap, so that no column moves into another's place. Columns
that begin anew further down are blocks of their own.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from ..errors import FileError
from .curve import Numbers
from .headings import REFERENCE
from .thousands import without_mixed_marks, without_quoted_thousands, without_thousands

MOST_BYTES = 50_000_000
COMMENT = ("#", "*", ";", "//", "!", "%")
NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eEdD][+-]?\d+)?$")
GAP = re.compile(r"^([+-]?(nan|inf|infinity)|n/?a|null|none|[-\u2013\u2014?]+|[+-]?1[.,]#\w+)?$", re.IGNORECASE)
HEADING_SEPARATORS = (";", "\t", ",", r" {2,}", r"[ \t]+")  # a line of headings may use another than the rows
MINUS = re.compile(r"(?<!\d)[\u2212\u2013](?=[\d.,])")  # typographic, before a number
ROW = re.compile(r"^[+\-\u2212]?[\d.,]")
LEAST_RUN = 3  # so many rows that rise make a curve of their own


@dataclass(frozen=True, eq=False)
class Block:
    """Columns of one curve or several side by side.

    Attributes
    ----------
    headings
        Lines above that have words for each column, cell by cell, the nearest first; whether they are headings, their
        meaning says.
    numbers
        Shape (rows, columns); not-a-number where a cell is a gap.
    line
        Where it begins in the file.
    """

    headings: tuple[tuple[str, ...], ...]
    numbers: Numbers
    line: int


@dataclass(frozen=True)
class _Line:
    """A line that says something; `cells` is None where it is no row of numbers."""

    number: int
    text: str
    cells: tuple[float, ...] | None


def read_blocks(path: Path) -> list[Block]:
    """The blocks of columns in a text file, at least one; each has a row or more, all of one width.

    Commas, semicolons, tabs or spaces stand between the columns, the same throughout; decimals have points or commas.

    Raises
    ------
    FileError
        If the file cannot be read, holds no columns of numbers, rows of different widths, or stray text among them.
    """
    lines = _lines(path)
    if all(line.cells is None for line in lines):
        raise FileError(f"{path} holds no columns of numbers; give a text file with frequency and level")
    blocks: list[Block] = []
    above: list[str] = []
    rows: list[_Line] = []
    for line in lines:
        if line.cells is not None:
            rows.append(line)
            continue
        if rows and not line.text.startswith(COMMENT):
            blocks += _blocks(path, above, rows)
            above, rows = [], []
        above.append(line.text)
    if rows:
        blocks += _blocks(path, above, rows)
    elif stray := [line for line in lines[-len(above) :] if not line.text.startswith(COMMENT)]:
        raise _stray(path, stray[0].number, stray[0].text)
    for one, other in pairwise(blocks):
        if not _overlap(one.numbers[:, 0], other.numbers[:, 0]):
            raise _stray(path, other.line, "what stands above this line")
    return blocks


def _lines(path: Path) -> list[_Line]:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FileError(f"{path} is larger than {MOST_BYTES // 1_000_000} MB; curves are not: check what it is")
        raw = path.read_bytes()
    except OSError as error:
        raise FileError(f"cannot read {path}: {error.strerror}; check the name and its permissions") from error
    texts = [
        without_quoted_thousands(text).replace('"', "").strip(" \r\f") for text in _decoded(path, raw).splitlines()
    ]
    texts = [MINUS.sub("-", text) if ROW.match(text) else text for text in texts]
    separator = _separator([text for text in texts if ROW.match(text)])
    _check_commas(path, texts, separator)
    if separator != ",":  # between commas 1.015,58 may be two numbers
        texts = [_without_mixed_marks(text, separator) if ROW.match(text) else text for text in texts]
    texts = _plain_thousands(path, texts, separator)
    lines = [
        _Line(number, text.strip(), _cells(text, separator)) for number, text in enumerate(texts, 1) if text.strip()
    ]
    for line in lines:
        if line.cells is not None and np.isinf(line.cells).any():
            raise FileError(f"{path}, line {line.number}: a number larger than any level or frequency; check the line")
    return lines


def _plain_thousands(path: Path, texts: Sequence[str], separator: str | None) -> list[str]:
    """The lines, with marks of thousands taken out of the first cell of each row."""
    made = list(texts)
    rows = [place for place, text in enumerate(texts) if _cells(text, separator) is not None]
    cells = [[part.strip() for part in texts[place].split(separator)] for place in rows]
    first = [own[0] for own in cells]
    plain = without_thousands(
        first, [part for own in cells for part in own[1:]], [place + 1 for place in rows], str(path)
    )
    for place, was, now in zip(rows, first, plain, strict=True):
        if was != now:
            made[place] = made[place].replace(was, now, 1)
    return made


def _without_mixed_marks(text: str, separator: str | None) -> str:
    cells = text.split(separator)
    plain = [without_mixed_marks(cell.strip()) for cell in cells]
    return text if plain == [cell.strip() for cell in cells] else (separator or " ").join(plain)


def _check_commas(path: Path, texts: Sequence[str], separator: str | None) -> None:
    """Nothing, if the commas of a file stand between its columns alone.

    Raises
    ------
    FileError
        If they also stand for its decimals: no number has a point, and there are twice as many as headings, or every
        other one is a lone digit where nothing is headed.
    """
    if separator != ",":
        return
    rows = [[part.strip() for part in text.split(",")] for text in texts if _cells(text, ",") is not None]
    if not rows or any(not re.fullmatch(r"[+-]?\d+", part) for own in rows for part in own):
        return
    [width, *others] = {len(own) for own in rows}
    heads = [text for text in texts if re.search(r"[^\W\d]", text) and _cells(text, ",") is None]
    named = {len([part for part in head.split(",") if part.strip()]) for head in heads if "," in head}
    tenths = len(rows) > 1 and all(re.fullmatch(r"\d|0\d+", part) for own in rows for part in own[1::2])
    if not others and width % 2 == 0 and width > 2 and (named == {width // 2} or (not named and tenths)):
        raise FileError(
            f"{path}: it has decimal commas and commas between its columns as well ({','.join(rows[0][:4])}); save it "
            "with semicolons or tabs between columns, or with decimal points"
        )


def _decoded(path: Path, raw: bytes) -> str:
    for name in ("utf-8-sig", "utf-16") if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(name)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise FileError(f"{path} is not a text file; give columns of numbers, or a WAV or SOFA file by its ending")


def _separator(data: Sequence[str]) -> str | None:
    """What stands between columns; commas where they are no decimal ones."""
    for mark in (";", "\t"):
        if 2 * sum(mark in line for line in data) > len(data):
            return mark
    if any(re.search(r"\d\.\d", line) for line in data):
        return "," if any("," in line for line in data) else None
    # only commas: between columns where some line has no other separator
    return "," if any("," in line and not re.search(r"\d\s+[+-]?[\d,]", line) for line in data) else None


def _cells(text: str, separator: str | None) -> tuple[float, ...] | None:
    """The numbers of a row, not-a-number for a gap; None if it is no row."""
    if text.startswith(COMMENT):
        return None
    parts = [part.strip() for part in text.split(separator)]
    if not all(NUMBER.match(part) or GAP.match(part) for part in parts):
        return None
    if not any(NUMBER.match(part) for part in parts):
        return None
    return tuple(_number(part) if NUMBER.match(part) else np.nan for part in parts)


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("d", "e").replace("D", "e"))


def _blocks(path: Path, above: Sequence[str], rows: Sequence[_Line]) -> list[Block]:
    """The block of these rows, or the blocks, where its first column begins anew."""
    cells = [line.cells or () for line in rows]
    widths = {len(own) for own in cells}
    if len(widths) > 1:
        short = next(line for line, own in zip(rows, cells, strict=True) if len(own) != len(cells[0]))
        raise FileError(
            f"{path}: lines hold {min(widths)} to {max(widths)} numbers (line {short.number} is the first that "
            "differs); every line needs the same columns"
        )
    numbers = np.array(cells, dtype=float)
    held = np.flatnonzero(~np.isnan(numbers).all(axis=0))  # a separator at the ends of all lines makes no column
    whole, named = numbers.shape[1], held[-1] + 1  # such a separator may be missing in the line of headings
    split = [_split(line, whole) or _split(line, named) for line in reversed(above)]
    headings = tuple(tuple(cells[place] for place in held) for cells in split if cells)
    numbers = numbers[:, held]
    starts = [0, *_restarts(numbers[:, 0]), len(numbers)]
    return [Block(headings, numbers[start:end], rows[start].number) for start, end in pairwise(starts)]


def _split(line: str, width: int) -> tuple[str, ...]:
    """The cells of a line that falls into so many, some of them words; none if it does not."""
    text = line.lstrip("".join(COMMENT)).strip()
    text = re.sub(r"\s+(?=[\[(])", "\u00a0", text)  # a unit in brackets belongs to the word before it
    glued = re.sub(r"\b(dB)\s+(?=SPL\b|re\b)", "\\1\u00a0", text, flags=re.IGNORECASE)
    glued = REFERENCE.sub(lambda match: re.sub(r"\s(?=\S)", "\u00a0", match[0]), glued)
    for words in (text, glued):
        for mark in HEADING_SEPARATORS if re.search(r"[^\W\d]", words) else ():
            cells = [part.replace("\u00a0", " ").strip() for part in re.split(mark, words)]
            while len(cells) > width and not cells[-1]:
                cells.pop()
            if len(cells) == width:
                return tuple(cells)
    return ()


def _restarts(hz: Numbers) -> list[int]:
    """The rows at which frequencies that rise (or fall) begin anew over the same range; none if they are one curve."""
    falls = np.diff(hz) < 0
    if 2 * falls.sum() > len(falls):
        falls = np.diff(hz) > 0
    places = [int(place) + 1 for place in np.flatnonzero(falls)]
    runs = [hz[start:end] for start, end in pairwise([0, *places, len(hz)])]
    if all(len(run) >= LEAST_RUN for run in runs) and all(_overlap(one, other) for one, other in pairwise(runs)):
        return places
    return []


def _overlap(one: Numbers, other: Numbers) -> bool:
    """Whether two runs of frequencies share more than a tenth of the narrower one's range."""
    spans = [np.log(np.maximum([np.nanmin(run), np.nanmax(run)], 1e-9)) for run in (one, other)]
    shared = min(span[1] for span in spans) - max(span[0] for span in spans)
    return bool(shared > 0.1 * min(span[1] - span[0] for span in spans) and shared >= 0)


def _stray(path: Path, number: int, text: str) -> FileError:
    return FileError(f"{path}: line {number}, {text[:40]!r}, is no row of numbers; mend it or mark it with #")
