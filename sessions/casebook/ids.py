"""Identifiers: short, readable, and unique across casebooks so that casebooks can be merged."""

from __future__ import annotations

import secrets

ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: easily misread or misheard
LENGTH = 10  # 50 random bits: a million rows in one table meet with probability below 0.05 %


def new_id(prefix: str) -> str:
    """A fresh identifier such as ``plan-7k3m9q2dxa``."""
    drawn = secrets.randbits(5 * LENGTH)  # at once: the system is asked once for each row, of which an answer has some
    return prefix + "-" + "".join(ALPHABET[drawn >> 5 * place & 31] for place in range(LENGTH))
