"""What somebody says was published or given to somebody: ends of the chain, and seals of plans. All of its SQL is here.

It is a statement by who keeps the casebook; whether it is true, only whoever kept the code can say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .store import Casebook

What = Literal["end", "seal"]


@dataclass(frozen=True)
class Witness:
    """That an end's code, or a plan's seal, was published or given to somebody; who or where, and when it was noted."""

    what: str
    code: str
    by: str
    at: str


def keep(casebook: Casebook, what: What, code: str, by: str) -> Witness:
    """Keep that it was published."""
    row = casebook.append("witnesses", "witness", {"what": what, "code": code, "by": by})
    return Witness(what, code, by, row["at"])


def everything(casebook: Casebook) -> list[Witness]:
    """All that was said to be published, in the order it was noted."""
    return [Witness(**row) for row in casebook.query("SELECT what, code, by, at FROM witnesses ORDER BY seq")]
