"""A listener with a stopwatch, and with an eye on the process: does anything they can measure tell a trial's key?

Everything that can be measured of a trial is one number (or one list of names) in `Measured`; `telling` tries to find
out from it what was played, and says where it could.
"""

from __future__ import annotations

import os
import random
import resource
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar
from unittest import mock

import numpy as np
from numpy.random import PCG64, Generator
from scipy.stats import binomtest, mannwhitneyu

from audio.clip import Clip
from audio.engine.playback import Audition
from audio.engine.player import Player
from audio.files import reading, writing
from sessions.casebook.store import Casebook
from sessions.listening import session, simulated_listener
from sessions.listening.session import Offered
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, seals
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.method import Key
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from tests.fakes import SilentPlayer
from tests.virtual_device import VirtualDevice

Found = TypeVar("Found")

FRAMES = 64  # of the prepared files: every path is the real one, and nothing takes long
_IO = os.open("/proc/self/io", os.O_RDONLY)

_opened: list[str] | None = None


def _watch(event: str, arguments: tuple[Any, ...]) -> None:
    if _opened is not None and event == "open":
        _opened.append(str(arguments[0]))
        if _on_open is not None:
            _on_open(str(arguments[0]))


_on_open: Callable[[str], None] | None = None
sys.addaudithook(_watch)  # there is no taking it off again; it does nothing while nobody watches


class Clock:
    """A clock that runs by the work done: every file, every byte to the engine, every commit takes its time."""

    def __init__(self, seed: int) -> None:
        self.now = 0.0
        self._rng = Generator(PCG64(seed))

    def monotonic(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds

    def work(self, seconds: float) -> None:
        """About so long, now and then much longer, as on a busy machine."""
        self.now += seconds * float(self._rng.lognormal(0.0, 0.15)) * (5.0 if self._rng.random() < 0.02 else 1.0)

    def opened(self, path: str) -> None:
        if path.endswith(".wav"):
            self.work(0.045)  # each file is opened to be hashed, inspected and read


class WorkingPlayer(SilentPlayer):
    """A silent player that takes its time for what it is given, and counts the bytes of it."""

    def __init__(self, clock: Clock) -> None:
        super().__init__()
        self._clock = clock
        self.bytes = 0

    def load(self, stimuli: Sequence[np.ndarray], rate_hz: int, places: Sequence[int] = ()) -> None:
        self.bytes = sum(sound.nbytes for sound in stimuli)
        self._clock.work(self.bytes / 1e5)

    def stop(self) -> None:
        self._clock.work(0.01)
        super().stop()


@dataclass
class Measured:
    """What a listener measured in trials of one kind; `truth` is what they want to find out, by trial."""

    keys: list[Key] = field(default_factory=list)
    right: list[int | None] = field(default_factory=list)
    values: dict[str, list[Any]] = field(default_factory=lambda: defaultdict(list))

    def extend(self, other: Measured) -> None:
        """Take in what was measured elsewhere."""
        self.keys += other.keys
        self.right += other.right
        for name, values in other.values.items():
            self.values[name] += values

    def add(self, key: Key, values: Mapping[str, Any], right: int | None = None) -> None:
        self.keys.append(key)
        self.right.append(right)
        for name, value in values.items():
            self.values[name].append(value)


def truths(measured: Measured) -> dict[str, np.ndarray]:
    """Every yes-or-no question about a key: what a label plays, which labels are alike, which setups play."""
    keys = measured.keys
    labels, places = sorted(keys[0]), sorted({place for key in keys for place in key.values()})
    found: dict[str, list[bool]] = {
        f"{label} is setup {place}": [key[label] == place for key in keys] for label in labels for place in places
    }
    found |= {
        f"{one} is {other}": [key[one] == key[other] for key in keys]
        for one in labels
        for other in labels
        if one < other
    }
    sets = {frozenset(key.values()) for key in keys}
    found |= {f"heard are {sorted(one)}": [frozenset(key.values()) == one for key in keys] for one in sets}
    if None not in measured.right:
        found["the answer was right"] = [bool(right) for right in measured.right]
    different: dict[bytes, tuple[str, np.ndarray]] = {}
    for question, answers in found.items():
        truth = np.array(answers)
        if truth.any() and not truth.all():
            different.setdefault((truth ^ truth[0]).tobytes(), (question, truth))  # a question and its opposite are one
    return dict(different.values())


def telling(measured: Mapping[str, Measured], alpha: float = 0.001) -> list[str]:
    """What some measure tells of the key, its p-value corrected for all that was tried (Bonferroni); empty: nothing."""
    tried, found = 0, []
    for kind, own in measured.items():
        for question, truth in truths(own).items():
            for name, values in own.values.items():
                tried += 2
                codes = _codes(values)
                if len(set(codes)) > 1:
                    p = min(mannwhitneyu(codes[truth], codes[~truth]).pvalue, guessed(codes, truth))
                    found.append((p, f"{kind}: {name} tells that {question}"))
    return [f"{said} (p = {p * tried:.2g})" for p, said in sorted(found) if p * tried <= alpha]


def guessed(values: np.ndarray, truth: np.ndarray) -> float:
    """The p-value of guesses by the best threshold, found in one half of the trials and tried in the other."""
    halves, hits = (slice(0, None, 2), slice(1, None, 2)), 0
    for learn, test in (halves, halves[::-1]):
        limits = np.unique(values[learn])
        above = values[learn][:, None] > limits
        agree = (above == truth[learn][:, None]).mean(axis=0)
        best = int(np.argmax(np.abs(agree - 0.5)))
        hits += int(((values[test] > limits[best]) == (truth[test] == (agree[best] >= 0.5))).sum())
    usual = max(truth.mean(), 1 - truth.mean())
    return float(binomtest(hits, len(truth), usual, "greater").pvalue)


def _codes(values: Sequence[Any]) -> np.ndarray:
    """Numbers as they are; lists of names by their order of appearance."""
    if isinstance(values[0], (int, float)):
        return np.array(values, dtype=float)
    numbers: dict[Any, int] = {}
    return np.array([numbers.setdefault(value, len(numbers)) for value in values], dtype=float)


def sealed_plan(book: Casebook, secret: bytes, wish: Wish, name: str = "evening") -> Plan:
    """A plan over tiny prepared files, sealed with a secret of the test's choice so that its keys stand."""
    with chosen(secret, name):
        drafted = drafting.draft(book, wish, name)
    passages = []
    for number, passage in enumerate(drafted.document["passages"]):
        audio, files = {}, {}
        for place, source in enumerate(drafted.sources):
            path = book.prepared / f"tiny {number}{place}.wav"
            samples = Generator(PCG64(place)).uniform(-0.5, 0.5, (FRAMES, 2))
            writing.write(path, Clip(samples, passage["rate_hz"]), seed=place)
            audio[source], files[source] = reading.sha256(path), path.name
        passages.append(passage | {"frames": FRAMES, "audio": audio, "files": files})
    made = Plan(dict(drafted.document) | {"passages": passages})
    with chosen(secret, name), mock.patch.object(drafting, "drafted", return_value=made):  # no draft has such files
        return seals.seal(book, name, anyway=True).plan


@contextmanager
def chosen(secret: bytes, name: str) -> Iterator[None]:
    """The same keys in every run: secrets and identifiers (keys follow from the listeners') by a test's choice."""
    with (
        mock.patch("secrets.randbits", random.Random(name).getrandbits),
        mock.patch("secrets.token_bytes", return_value=secret),
    ):
        yield


def evening(
    book: Casebook,
    plan: Plan,
    clock: Clock,
    *,
    resumes: int = 1,
    runner_of: Callable[..., TrialRunner] = TrialRunner,
) -> dict[str, Measured]:
    """All trials of a plan, guessed; every third one left and resumed, every fifth disturbed by a fault.

    What is measured of the trial as it is offered, as it comes back when the session is resumed or after a fault, of
    what is heard and of its answer; for the trial after an answer, whether that answer was right.
    """
    found = {kind: Measured() for kind in ("offered", "resumed", "offered again", "answered", "after an answer")}
    rng = Generator(PCG64(5))
    book.db.conn.executescript("PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY")  # nothing is to outlast it
    book.db.conn.set_trace_callback(lambda sql: clock.work(0.004) if sql == "COMMIT" else None)
    for listener in plan.listeners:
        player, stack = WorkingPlayer(clock), ExitStack()
        begin = partial(_begun, book, plan, listener.name, player, clock, runner_of)
        (runner, offered), _ = _watched(clock, player, partial(begin, stack))
        while offered is not None:
            if offered.trial % 3 == 0:
                times = []
                for _ in range(resumes):
                    stack.close()
                    player = WorkingPlayer(clock)
                    begin = partial(_begun, book, plan, listener.name, player, clock, runner_of)
                    (runner, offered), values = _watched(clock, player, partial(begin, stack))
                    times.append(values["seconds"])
                found["resumed"].add(offered.key, values | {"seconds": float(np.mean(times))})
            if offered.trial % 5 == 0 and offered.offer == 1:
                player.counts = replace(player.counts, underruns=player.counts.underruns + 1)
                assert runner.poll() is not None
                offered, values = _watched(clock, player, runner.offer)
                found["offered again"].add(offered.key, values)
            begun = clock.monotonic()
            for label in runner.method.stimuli:
                runner.hear(label)
            heard = clock.monotonic() - begun
            player.heard = [Audition(0, 0, FRAMES)]
            answer = simulated_listener.answer_to(plan, dict.fromkeys(offered.key, 0), False, rng)  # knows no key
            _, values = _watched(clock, player, partial(runner.answer, answer, 2))
            right = plan.method.score(offered.key, answer) if isinstance(plan.method, CountedMethod) else None
            found["answered"].add(offered.key, values | {"seconds to hear": heard}, right)
            before = offered
            offered, values = _watched(clock, player, runner.offer)
            if offered is not None:
                found["offered"].add(offered.key, values)
                found["after an answer"].add(before.key, values, right)
        stack.close()
    return {kind: own for kind, own in found.items() if own.keys}


def evening_in_real_time(
    book: Casebook, plan: Plan, trials: int, runner_of: Callable[..., TrialRunner] = TrialRunner
) -> dict[str, Measured]:
    """Trials of a plan of one listener at a real player, each in a session taken up anew, by this machine's clock."""
    found, rng = Measured(), Generator(PCG64(5))
    book.db.conn.executescript("PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY")
    for trial in range(trials + 1):
        with (
            session.begin(book, plan.name, plan.listeners[0].name, "none: stopwatch") as running,
            Player(engine=VirtualDevice(pace=20.0).engine) as player,
        ):
            runner = runner_of(running, player)
            before, begun = _process() | _usage(), time.monotonic()
            offered = runner.offer()
            took, after = time.monotonic() - begun, _process() | _usage()
            assert offered is not None
            values = {name: after[name] - before[name] for name in before}
            if trial:  # the first one warms up
                found.add(offered.key, values | {"seconds": took})
            player.play(0)
            runner.answer(simulated_listener.answer_to(plan, dict.fromkeys(offered.key, 0), False, rng), 1)
    return {"taken up": found}


def _begun(
    book: Casebook,
    plan: Plan,
    listener: str,
    player: SilentPlayer,
    clock: Clock,
    runner_of: Callable[..., TrialRunner],
    stack: ExitStack,
) -> tuple[TrialRunner, Offered | None]:
    """The session begun or taken up, with the trial it stands at."""
    running = stack.enter_context(session.begin(book, plan.name, listener, "none: stopwatch"))
    runner = runner_of(running, player, monotonic=clock.monotonic, sleep=clock.sleep)
    return runner, runner.offer()


def _watched(clock: Clock, player: WorkingPlayer, act: Callable[[], Found]) -> tuple[Found, dict[str, Any]]:
    """Do something, and measure everything about it."""
    global _opened, _on_open
    _opened, _on_open = [], clock.opened
    before, begun = _process(), clock.monotonic()
    try:
        result = act()
    finally:
        opened, _opened = _opened, None
    after = _process()
    values = {name: after[name] - before[name] for name in before}
    return result, values | {
        "seconds": round(clock.monotonic() - begun, 9),
        "files opened": len(opened),
        "order of files": tuple(Path(name).stem[-1] for name in opened if name.endswith(".wav")),
        "open files": after["open files"],
        "bytes for the engine": player.bytes,
    }


def _process() -> dict[str, int]:
    """What this system tells of a process to whoever owns it: bytes and calls of its reads and writes, open files."""
    counts = [int(line.split()[1]) for line in os.pread(_IO, 1000, 0).splitlines()[:4]]
    names = ("bytes read", "bytes written", "reads", "writes")
    return dict(zip(names, counts, strict=True)) | {"open files": len(os.listdir("/proc/self/fd"))}


def _usage() -> dict[str, float]:
    """What it tells besides: time of the processor, and memory asked for."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    resident = int(Path("/proc/self/statm").read_text().split()[1])
    return {
        "processor seconds": used.ru_utime + used.ru_stime,
        "page faults": used.ru_minflt,
        "resident pages": resident,
    }
