"""The end of the chain as a short code, to be filmed or sent away. Pure: text and numbers, no database here.

A code is the number of rows, the first 16 hexadecimal digits of the last row's hash, and a check character. Whoever
keeps ``214-0F3A-91BC-77D2-05EE-S`` can ask any later copy of the record whether its row 214 still has that hash.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import CasebookError

HASH_DIGITS = 16  # 64 bits: another record that fits a code once shown takes 2**64 tries; two made to share one, 2**32
CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
BETWEEN = r"[\s\-\u2010-\u2015\u2212]*"  # white space, and the dashes that text programs make of hyphens
_CODE = re.compile(
    rf"\s*([1-9][0-9]*){BETWEEN}((?:[0-9A-F]{BETWEEN}){{{HASH_DIGITS}}})([0-9A-Z])(?=$|[\s,;:.])", re.IGNORECASE
)


@dataclass(frozen=True)
class EndCode:
    """An end as it was kept: how many rows there were, and the first digits (upper case) of the last one's hash."""

    rows: int
    digits: str

    def fits(self, digest: str) -> bool:
        """Whether a row's hash begins so."""
        return digest[:HASH_DIGITS].upper() == self.digits

    def __str__(self) -> str:
        """The code in groups, for reading aloud."""
        groups = [self.digits[at : at + 4] for at in range(0, HASH_DIGITS, 4)]
        return "-".join([str(self.rows), *groups, check_character(f"{self.rows}{self.digits}")])


@dataclass(frozen=True)
class End:
    """The chain's end as it was when this row was the last: its place, which is the number of rows, and its hash."""

    head_seq: int
    hash: str

    @property
    def code(self) -> EndCode:
        """What is shown of it."""
        return EndCode(self.head_seq, self.hash[:HASH_DIGITS].upper())


def check_character(text: str) -> str:
    """The check character of ISO 7064, MOD 37,36: it finds each wrong character and almost all that changed places.

    The example is the one published with the Global Release Identifier (from memory).

    >>> check_character("A12425GABC1234002")
    'M'
    """
    remainder = 36
    for character in text:
        remainder = (remainder + CHARACTERS.index(character)) % 36 or 36
        remainder = remainder * 2 % 37
    return CHARACTERS[(37 - remainder) % 36]


def parse(text: str) -> EndCode:
    """The end that a code says, in upper or lower case, with or without hyphens and spaces.

    Raises
    ------
    CasebookError
        If it is no such code, or was mistyped.
    """
    found, rest = parse_first(text)
    if rest:
        raise CasebookError(_no_code(text))
    return found


def parse_first(line: str) -> tuple[EndCode, str]:
    """The end that a line begins with, and the words after it.

    Raises
    ------
    CasebookError
        As in `parse`.
    """
    found = _CODE.match(line)
    if found is None:
        raise CasebookError(_no_code(line))
    code = EndCode(int(found[1]), re.sub(BETWEEN, "", found[2]).upper())
    given = found[3].upper()
    if given != check_character(f"{code.rows}{code.digits}"):
        raise CasebookError(
            f"the end code {found[0].strip()!r} is mistyped: its last character does not fit the others; compare it "
            "with what was kept, character by character"
        )
    return code, line[found.end() :].strip(" \t\r\n,;:.")


def _no_code(text: str) -> str:
    return f"{text.strip()!r} is no end code, or was mistyped; one looks like 214-0F3A-91BC-77D2-05EE-S"
