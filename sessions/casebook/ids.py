"""Identifiers: short, readable, and unique across casebooks so that casebooks can be merged."""

from __future__ import annotations

import secrets

ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: easily misread or misheard
LENGTH = 10  # 50 random bits: a million rows in one table meet with probability below 0.05 %


def new_id(prefix: str) -> str:
    """A fresh identifier such as ``plan-7k3m9q2dxa``."""
    return prefix + "-" + "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
