"""Whether the sealed audio is on the disk is said by `verify` and `plan show`, before anybody sits down to listen."""

from __future__ import annotations

import json

import pytest

from sessions.casebook.store import Casebook
from sessions.plans import seals
from tests.command_line import earwitness

SAID = "the prepared audio of passage 'strings 1'"


@pytest.mark.parametrize("fate", ["missing", "changed"])
def test_sealed_audio_that_is_gone_is_named(sealed: Casebook, fate: str) -> None:
    plan = seals.sealed_plan(sealed, "evening").plan
    assert earwitness(sealed.folder, "verify").returncode == 0
    assert "NOT ALL THERE" not in earwitness(sealed.folder, "plan", "show", "evening").stdout
    (strings,) = [one for one in plan.passages if one.name == "strings 1"]
    path = sealed.prepared / next(iter(strings.files.values()))
    if fate == "missing":
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[:-1] + b"x")
    done = earwitness(sealed.folder, "verify")
    assert done.returncode == 0  # the record itself holds
    assert f"plan evening: {SAID}" in done.stdout
    assert f"of 2 files 1 {fate}; rebuild it" in done.stdout
    (said,) = json.loads(earwitness(sealed.folder, "verify", "--json").stdout)["without_audio"]
    assert said.startswith(f"plan evening: {SAID}")
    shown = earwitness(sealed.folder, "plan", "show", "evening")
    assert f"NOT ALL THERE: {SAID}" in shown.stdout
    assert "drums" not in shown.stdout.split("NOT ALL THERE")[1]


def test_the_audio_of_a_plan_that_is_over_is_said_and_no_fault(sealed: Casebook) -> None:
    seals.close(sealed, "evening", "moved house")
    for path in sealed.prepared.glob("*.wav"):
        path.unlink()
    done = earwitness(sealed.folder, "verify")
    assert done.returncode == 0
    assert f"plan evening: {SAID}" in done.stdout
    assert "of 2 files 2 missing; the plan is over, and its verdict does not need it" in done.stdout
