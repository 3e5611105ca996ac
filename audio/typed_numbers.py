"""Numbers as people type them, and nothing else: no underscores, no infinities, no digits of other scripts. Pure."""

from __future__ import annotations

import re
from math import isfinite

WHOLE = re.compile(r"[+-]?[0-9]{1,15}")
DECIMAL = re.compile(r"[+-]?(?:[0-9]{1,15}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][+-]?[0-9]{1,3})?")


def number(text: str) -> float | None:
    r"""The number that a text is, the minus also typographic; None if it is none, or more than a computer holds.

    Examples
    --------
    >>> number("-0.5"), number("\u22121e3"), number(".25"), number(" 7 ")
    (-0.5, -1000.0, 0.25, 7.0)
    >>> number("1_6"), number("1e400"), number("nan"), number("1,5"), number("")
    (None, None, None, None, None)
    """
    typed = _ascii(text)
    value = float(typed) if DECIMAL.fullmatch(typed) else None
    return value if value is not None and isfinite(value) else None


def whole(text: str) -> int | None:
    """The whole number that a text is; None if it is none, or has more than 15 digits.

    >>> whole("16"), whole("-3"), whole("1_6"), whole("1.0"), whole("9" * 5000)
    (16, -3, None, None, None)
    """
    typed = _ascii(text)
    return int(typed) if WHOLE.fullmatch(typed) else None


def _ascii(text: str) -> str:
    return text.strip().replace("\N{MINUS SIGN}", "-")
