"""Nothing that a listener can time or count tells a key: 400 trials of every method, left and resumed, with faults."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace
from hashlib import sha256
from typing import Any

import numpy as np
import pytest

from sessions.casebook.store import Casebook
from sessions.listening import equal_times, trial_runner
from sessions.listening.equal_times import EqualTimes
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, seals
from sessions.plans.methods.table import METHODS
from sessions.plans.plan import Plan
from sessions.plans.plan_parts import PlannedPassage
from sessions.plans.plan_rows import Wish
from sessions.preparation import prepared_audio
from sessions.preparation.prepared_audio import SealedFile
from tests import stopwatch
from tests.answered_plans import SETUPS
from tests.fakes import at_once
from tests.stopwatch import Measured

LISTENERS = tuple(f"listener {number}" for number in range(1, 11))
WISHES: dict[str, dict[str, Any]] = {method: {"method": method, "trials": 40} for method in METHODS} | {
    "round-robin": {"method": "round-robin", "trials": 42},
    "words": {"method": "words", "trials": 30, "words": ("bright", "dull", "thin")},
    "abx with controls": {"method": "abx", "trials": 22, "controls": 18},
    "abx with a known difference": {"method": "abx", "trials": 20, "known": 20, "lift_hz": 2000, "lift_db": "1"},
    "same-different with a known step": {
        "method": "same-different",
        "trials": 20,
        "known": 20,
        "step_db": "-1",
    },
    "sequential abx": {"method": "abx", "trials": 40, "stopping": "sprt"},
}


def measured(book: Casebook, case: str, trials: int, **how: Any) -> list[str]:
    """What the stopwatch finds in trials; a sequential plan has one listener and ends when it does: many of them."""
    wish = Wish(**WISHES[case], setups=SETUPS if METHODS[WISHES[case]["method"]].setups[1] > 2 else SETUPS[:2])
    clock, found, number = stopwatch.Clock(len(case)), defaultdict[str, Measured](Measured), 0
    while len(found["answered"].keys) < trials:
        number += 1
        listeners = LISTENERS[: math.ceil(trials / 40)] if wish.stopping == "fixed" else LISTENERS[:1]
        secret = sha256(f"{case} {number}".encode()).digest()
        plan = stopwatch.sealed_plan(book, secret, replace(wish, listeners=listeners), f"evening {number}")
        for kind, own in stopwatch.evening(book, plan, clock, **how).items():
            found[kind].extend(own)
    return stopwatch.telling(found)


class ReadsWhatItPlays(TrialRunner):
    """A runner that reads only what a trial plays, in the order of its labels."""

    def _passage_sounds(self, passage: PlannedPassage) -> Any:
        key, plan = self.current.key, self.session.plan
        sources = plan.sources
        sounds: list[Any] = [np.zeros((stopwatch.FRAMES, 2), dtype=np.float32)] * len(sources)
        for label in self.method.stimuli:
            source = sources[key[label]]
            if source not in self._read_once.setdefault(passage.id, {}):
                sealed = [SealedFile(passage.audio[source], passage.files.get(source))]
                found = prepared_audio.sounds(self.session.casebook, passage.name, sealed, plan.match.sheet)
                self._read_once[passage.id][source] = found[0]
            sounds[key[label]] = self._read_once[passage.id][source]
        shape = max(sound.shape for sound in sounds)
        return np.stack([np.resize(sound, shape) for sound in sounds])

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._read_once: dict[str, dict[str, Any]] = {}


class TakesItsTime(ReadsWhatItPlays):
    """The same, and a trial is there as soon as it can be."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._times = EqualTimes(self._monotonic, at_once)


@pytest.mark.parametrize("case", WISHES)
def test_times_and_counts_tell_no_key(book: Casebook, case: str, pytestconfig: pytest.Config) -> None:
    trials, resumes = pytestconfig.getoption("trials"), pytestconfig.getoption("resumes")
    assert measured(book, case, trials, resumes=resumes) == []


@pytest.mark.parametrize(
    ("case", "runner_of", "told"),
    [
        ("same-different", TakesItsTime, "resumed: seconds tells that 1 is 2"),
        ("abx with controls", TakesItsTime, "resumed: seconds tells that A is B"),
        ("abx with a known difference", ReadsWhatItPlays, "resumed: order of files tells that B is setup 1"),
        ("same-different", ReadsWhatItPlays, "resumed: bytes read tells that 1 is 2"),
        ("preference", ReadsWhatItPlays, "resumed: order of files tells that 1 is setup 0"),
    ],
)
def test_a_runner_that_reads_only_what_it_plays_is_caught(
    book: Casebook, case: str, runner_of: type[TrialRunner], told: str
) -> None:
    found = measured(book, case, 200, runner_of=runner_of)
    assert any(said.startswith(told) for said in found), found


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Equal times that are just long enough for passages of three seconds."""
    monkeypatch.setattr(equal_times, "READY_S", 0.0)
    monkeypatch.setattr(equal_times, "STEP_S", 0.05)
    monkeypatch.setattr(trial_runner, "OPENING_S", 0.0)
    monkeypatch.setattr(trial_runner, "ANSWERED_S", 0.05)


def real_plan(book: Casebook, trials: int) -> Plan:
    wish = Wish("same-different", SETUPS[:2], listeners=("Ada",), trials=max(trials + 1, 2))
    with stopwatch.chosen(sha256(b"real time").digest(), "evening"):  # about as many same as different in 24
        drafting.draft(book, wish, "evening")
        return seals.seal(book, "evening").plan


@pytest.mark.usefixtures("quick")
def test_measured_in_real_time_the_same_look_like_the_different(book: Casebook, pytestconfig: pytest.Config) -> None:
    trials = pytestconfig.getoption("real_trials")
    found = stopwatch.evening_in_real_time(book, real_plan(book, trials), trials)
    assert stopwatch.telling(found) == []


@pytest.mark.usefixtures("quick")
def test_in_real_time_a_runner_that_reads_only_what_it_plays_is_caught(book: Casebook) -> None:
    found = stopwatch.evening_in_real_time(book, real_plan(book, 24), 24, TakesItsTime)
    assert any("bytes read tells that 1 is 2" in said for said in stopwatch.telling(found))


def test_a_trial_that_took_longer_than_its_time_appears_after_twice_that_time() -> None:
    clock = [0.0]

    def sleep(seconds: float) -> None:
        clock[0] += seconds

    times, ended = EqualTimes(lambda: clock[0], sleep), []
    for work in (0.0, 0.3, 1.0, 1.1, 2.5):
        begun = clock[0]
        with times.lasting(1.0):
            clock[0] += work
        ended.append(clock[0] - begun)
    assert ended == pytest.approx([1, 1, 1, 2, 3])


def test_how_long_a_trial_takes_to_appear_follows_from_the_plan_alone(book: Casebook) -> None:
    """One second, and 200 ns for each frame of each file and each label, in whole halves of a second."""
    plan = real_plan(book, 8)
    assert {passage.frames for passage in plan.passages} == {3 * 48_000}
    assert equal_times.appears_s(plan) == 1.5  # 1 + 144000 (2 + 2) 200e-9 = 1.12
    longer = [dict(passage) | {"frames": 60 * 48_000} for passage in plan.document["passages"]]
    assert equal_times.appears_s(Plan(dict(plan.document) | {"passages": longer})) == 3.5  # 3.30
