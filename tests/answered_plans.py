"""What tests do with a plan: seal it, answer it as a listener of known hearing, check it by the stand-alone program."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Mapping
from importlib.resources import files as package_files
from pathlib import Path
from typing import Any

from numpy.random import PCG64, Generator

from sessions.casebook.store import Casebook
from sessions.listening import session, simulated_listener
from sessions.plans import drafting, seals
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from sessions.results.exported_record import exported

OF_MANY = ("multi-stimulus", "round-robin")
SETUPS = ("sallow", "bracken", "sallow-late")
PAIR = SETUPS[:2]

WISHES: dict[str, dict[str, Any]] = {
    "abx": {"trials": 10, "controls": 3, "known": 2, "lift_hz": 2000, "lift_db": "1"},
    "preference": {"trials": 10},
    "triangle": {"trials": 9, "controls": 2},
    "duo-trio": {"trials": 10, "known": 3, "step_db": "0.5"},
    "tetrad": {"trials": 9},
    "same-different": {"trials": 12, "known": 6, "lift_hz": 500, "lift_db": "2.0"},
    "hidden-reference": {"trials": 8, "controls": 2, "known": 4, "step_db": "-1"},
    "multi-stimulus": {"trials": 4},
    "round-robin": {"trials": 12, "controls": 2},
    "words": {"trials": 12, "words": ("bright", "boomy", "thin", "wide")},
}
"""A short plan of each method, some with controls, known differences or both."""


def sealed_plan(book: Casebook, name: str = "evening", **wish: Any) -> Plan:
    """A plan, sealed at once."""
    wish.setdefault("listeners", ("Ada",))
    wish.setdefault("setups", PAIR if wish["method"] not in OF_MANY else SETUPS)
    drafting.draft(book, Wish(**wish), name)
    return seals.seal(book, name).plan


def answer_all(
    book: Casebook, hears: float, listener: str = "Ada", plan: str = "evening", most: int = 10_000, second: str = ""
) -> None:
    """Answer as a listener who hears it in a share of the trials, by looking at the key (as a test may)."""
    rng = Generator(PCG64(11))
    with session.begin(book, plan, listener, "none: test", lambda _: second) as running:
        while most and (offered := running.next_trial()) is not None:
            most -= 1
            answer = simulated_listener.answer_to(running.plan, offered.key, bool(rng.random() < hears), rng)
            for label in running.plan.method.stimuli:
                running.audition(offered, label, 0, 48_000)
            running.answer(offered, answer, 3, 4000)


def answer_trials(casebook: Casebook, right: int, wrong: int, listener: str = "Ada", plan: str = "evening") -> None:
    """Answer so many trials rightly, then so many wrongly, by looking at the key (as a test may)."""
    with session.begin(casebook, plan, listener, "none: test") as running:
        for place in range(right + wrong):
            offered = running.next_trial()
            assert offered is not None
            is_a = offered.key["X"] == 0
            running.answer(offered, "A" if is_a == (place < right) else "B", 2, 1500)


def checked_alone(book: Casebook, folder: Path, name: str = "evening") -> str:
    """What the stand-alone program of the sealing rule says of a plan's record."""
    done = run_alone(exported(book, seals.sealed_plan(book, name)), folder)
    assert done.returncode == 0, done.stderr
    return done.stdout


def stand_alone() -> str:
    """The program of the sealing rule."""
    text = (package_files("sessions.plans") / "sealing.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, flags=re.DOTALL)
    assert len(blocks) == 1
    return str(blocks[0])


def run_alone(record: Mapping[str, Any], folder: Path) -> subprocess.CompletedProcess[str]:
    """The program on a record, as a stranger runs it: with the standard library alone."""
    (folder / "check.py").write_text(stand_alone(), encoding="utf-8")
    (folder / "record.json").write_text(json.dumps(record), encoding="utf-8")
    command = [sys.executable, "-I", "-S", "check.py", "record.json"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
