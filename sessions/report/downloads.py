"""Files that a report carries in itself, for whoever checks a plan without this program and without a network."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook.store import Casebook
from ..plans.plan_rows import SealedPlan
from ..results import exported_record
from ..results.stand_alone import PROGRAM, program

MOST_BYTES = 12_000_000  # of all records in a page: what a telephone still reads with ease; our choice
BYTES_A_ROW = 200  # of the chain, as an address: a place and two hashes


@dataclass(frozen=True)
class Download:
    """A file inside the page: what it is called once it is saved, and its bytes as an address."""

    name: str
    address: str


def of_plan(casebook: Casebook, sealed: SealedPlan) -> list[Download]:
    """The record of a plan that is over, and the program that checks it."""
    record = json.dumps(exported_record.exported(casebook, sealed), ensure_ascii=False, separators=(",", ":"))
    name = re.sub(r"[^\w.-]+", "-", sealed.plan.name)
    return [
        Download(f"record-{name}.json", _address("application/json", record)),
        Download(PROGRAM, _address("text/x-python", program())),
    ]


def apart(casebook: Casebook, plans: Sequence[SealedPlan]) -> frozenset[str]:
    """The plans whose records a page has no room for, by identifier: those of the longest chains.

    A record holds every row of the chain from the plan's seal on, so that with many plans each says much again.
    """
    end = int(casebook.head()["head_seq"])
    left, found = MOST_BYTES, set[str]()
    for one in sorted(plans, key=lambda one: -one.row):
        left -= BYTES_A_ROW * (end - one.row)
        if left < 0:
            found.add(one.plan.id)
    return frozenset(found)


def _address(kind: str, text: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(text.encode()).decode('ascii')}"
