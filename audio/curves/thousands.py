"""Marks of thousands in a column of frequencies: `1,000` after `800` is a thousand, not one. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from ..errors import FileError
from ..typed_numbers import number

GROUPED = r"^\d{{1,3}}[{mark}]\d{{3}}$"
QUOTED = re.compile(r'"[+-]?\d{1,3}(?:,\d{3})+\.\d*"')
MIXED = re.compile(  # the one mark groups by three, the other parts the decimals; an apostrophe only ever groups
    r"^[+-]?\d{1,3}(?:(?P<comma>,)\d{3}(?:,\d{3})*\.\d+|(?P<point>\.)\d{3}(?:\.\d{3})*,\d+"
    r"|(?P<apostrophe>['\u2019])\d{3}(?:['\u2019]\d{3})*(?:[.,]\d+)?)$"
)
DECIMAL = {",": ".", ".": ","}
LEAST_GROUPED = 1000.0  # where thousands are marked, no number without a mark reaches it
FALL = 20.0  # a column that rises falls by more than this where `1,000` is read as one; our choice


def without_quoted_thousands(line: str) -> str:
    """A line whose quoted numbers are without commas of thousands, where a decimal point tells that they are those.

    >>> without_quoted_thousands('"1,015.6",86.2')
    '"1015.6",86.2'
    """
    return QUOTED.sub(lambda match: match[0].replace(",", ""), line)


def without_mixed_marks(cell: str) -> str:
    """A number without marks of thousands that can be nothing else: they stand before another mark, or are apostrophes.

    A comma that is left is one of decimals.

    >>> [without_mixed_marks(one) for one in ("1.015,58", "1,015.58", "1'015.6", "1.015", "-1,5")]
    ['1015,58', '1015.58', '1015.6', '1.015', '-1,5']
    """
    found = MIXED.match(cell)
    if found is None:
        return cell
    return re.sub("['\u2019]" if found["apostrophe"] else "," if found["comma"] else r"\.", "", cell)


def without_thousands(first: Sequence[str], others: Sequence[str], lines: Sequence[int], where: str) -> list[str]:
    """The cells of a first column with marks of thousands taken out, where it has such.

    They are marks of thousands where each stands before exactly three digits, and either the file writes its decimals
    with the other mark, or the column turns back by a great step at the first of them and goes on without it.

    Parameters
    ----------
    first, others
        Cells of the first column, and of all others.
    lines
        In which line of the file each cell of the first column stands.

    Raises
    ------
    FileError
        If the column turns back so, and its marks cannot all be of thousands.
    """
    cells = list(first)
    for mark, decimal in DECIMAL.items():
        marked = [bool(re.match(rf"^\d+[{mark}]\d+$", cell)) for cell in cells]
        if not any(marked):
            continue
        grouped = all(re.match(GROUPED.format(mark=mark), cell) for cell, own in zip(cells, marked, strict=True) if own)
        plain = any(re.match(rf"^[+-]?\d*[{decimal}]\d+$", cell) for cell in [*cells, *others])
        turn = _turn(cells, marked, mark)
        if turn is None and not (grouped and plain):
            continue
        removed = [cell.replace(mark, "") if own else cell for cell, own in zip(cells, marked, strict=True)]
        if grouped and _turn(removed, marked, mark) is None:
            return removed
        if turn is not None:
            raise FileError(
                f"{where}, line {lines[turn]}: {cells[turn]!r} after {cells[turn - 1]!r} looks like a mark of "
                "thousands, but not all numbers of that column are written so; write them without such marks"
            )
    return cells


def _turn(cells: Sequence[str], marked: Sequence[bool], mark: str) -> int | None:
    """Where a column steps, against its way, between a number below 1000 and a much smaller grouped one; or None."""
    values = [number(cell.replace(mark, ".").replace(",", ".")) for cell in cells]
    steps = [other - one for one, other in pairwise(values) if one is not None and other is not None]
    rises = sum(step > 0 for step in steps) >= sum(step < 0 for step in steps)
    for place, (one, other) in enumerate(pairwise(values), 1):
        if one is None or other is None:
            continue
        into = marked[place] and not marked[place - 1] and LEAST_GROUPED > one > FALL * other
        back = marked[place - 1] and not marked[place] and LEAST_GROUPED > other > FALL * one
        grouped = re.match(GROUPED.format(mark=mark), cells[place if rises else place - 1])
        if grouped and (into if rises else back):
            return place
    return None
