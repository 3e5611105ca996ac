"""What came of a viewers' page: the codes that were sent, scored by the test's key, and all that follows. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from stats import crowd
from stats.count_summary import HEARD, NOT_SHOWN
from stats.crowd import Crowd, Pooled
from stats.holm import holm

from ..plans import viewers_test
from ..plans.answer_codes import DEVICES, Answered, Collected
from ..plans.viewers_test import ViewersTest


@dataclass(frozen=True)
class Part:
    """A passage or a kind of device: its count, and p with Holm's correction over all of its kind."""

    name: str
    viewers: int
    pooled: Pooled
    p_holm: float


@dataclass(frozen=True)
class Flags:
    """How many viewers' codes say that something was not as it should be."""

    disturbed: int
    inexact: int
    sides: int


@dataclass(frozen=True)
class ViewersResult:
    """What the viewers' answers come to.

    Attributes
    ----------
    by_passage, by_device
        Looked at beside the one planned test.
    """

    test: ViewersTest
    collected: Collected
    crowd: Crowd
    verdict: str
    by_passage: tuple[Part, ...]
    by_device: tuple[Part, ...]
    flags: Flags


def kept_text(codes: Iterable[str]) -> str:
    """The codes that count, as they are kept and hashed: their letters in alphabetical order, a line each."""
    return "\n".join(sorted(codes))


def result(test: ViewersTest, secret: bytes, collected: Collected) -> ViewersResult:
    """What codes of a test come to.

    Raises
    ------
    StatsError
        If there is none.
    """
    two_sided = test.method != "abx"
    coins = [viewers_test.coin(test, secret, slot) for slot in range(1, test.trials + 1)]
    passages = [viewers_test.passage_of(test, secret, slot) for slot in range(1, test.trials + 1)]
    heard: dict[int, list[tuple[int, int]]] = {}  # of each order: the passage and the setup of every trial
    right_of, tally = Counter[int](), Counter[tuple[int, int]]()
    devices: dict[int, Counter[int]] = {}
    flags = Counter[str]()
    for answered in collected.codes.values():
        trials = heard.get(answered.order)
        if trials is None:
            trials = [
                (passages[slot - 1], coins[slot - 1] ^ file)
                for slot, file in viewers_test.slots_of(test, answered.order)
            ]
            heard[answered.order] = trials
        right = 0
        for (passage, setup), answer in zip(trials, answered.answers, strict=True):
            scored = viewers_test.score(answer, setup)
            tally[passage, scored] += 1
            right += scored
        right_of[right] += 1
        devices.setdefault(answered.device, Counter())[right] += 1
        flags.update(_flags(answered))
    every = crowd.crowd(right_of, test.trials, two_sided=two_sided)
    senders = every.listeners
    of_passages = [
        (test.passages[place].name, senders, tally[place, 1], tally[place, 0] + tally[place, 1])
        for place in sorted(set(passages))
    ]
    of_devices = [
        (DEVICES[place], sum(own.values()), sum(n * own[n] for n in own), sum(own.values()) * test.trials)
        for place, own in sorted(devices.items())
    ]
    return ViewersResult(
        test,
        collected,
        every,
        HEARD if every.pooled.p_value <= test.alpha else NOT_SHOWN,
        _parts(of_passages, two_sided),
        _parts(of_devices, two_sided),
        Flags(flags["disturbed"], flags["inexact"], flags["sides"]),
    )


def _flags(answered: Answered) -> list[str]:
    return [name for name in ("disturbed", "inexact", "sides") if getattr(answered, name)]


def _parts(counts: Iterable[tuple[str, int, int, int]], two_sided: bool) -> tuple[Part, ...]:
    found = [(name, viewers, crowd.pooled(right, of, two_sided=two_sided)) for name, viewers, right, of in counts]
    corrected = holm([pooled.p_value for _, _, pooled in found])
    return tuple(Part(*one, p_holm) for one, p_holm in zip(found, corrected, strict=True))
