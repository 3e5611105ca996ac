"""Text in a cell of CSV that a spreadsheet is to show and not to run. Pure.

Spreadsheets run what begins with = + - @, a tab or a return as a formula (common practice, no source): text that does,
or that begins with ', gets one ' more before it, which is taken off again where such a table is read.
"""

from __future__ import annotations

RISKY = ("=", "+", "-", "@", "\t", "\r", "'")


def guarded(text: str) -> str:
    """The text as it stands in a cell.

    >>> guarded("=1+1"), guarded("'tis"), guarded("bright")
    ("'=1+1", "''tis", 'bright')
    """
    return f"'{text}" if text.startswith(RISKY) else text


def unguarded(cell: str) -> str:
    """The text of a cell, as it was before it was guarded; what was never guarded stays as it is.

    >>> unguarded("'=1+1"), unguarded("''tis"), unguarded("'tis"), unguarded("bright")
    ('=1+1', "'tis", "'tis", 'bright')
    """
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(RISKY) else cell
