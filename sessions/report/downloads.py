"""Files that a report carries in itself, for whoever checks a plan without this program and without a network."""

from __future__ import annotations

import base64
import json
import re
from dataclasses import dataclass

from ..casebook.store import Casebook
from ..plans.plan_rows import SealedPlan
from ..results import exported_record
from ..results.stand_alone import PROGRAM, program


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


def _address(kind: str, text: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(text.encode()).decode('ascii')}"
