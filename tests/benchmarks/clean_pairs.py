"""How often a pair of recordings without any cue is said to have one, on pieces and families made at random; by hand.

    python -m tests.benchmarks.clean_pairs [--pairs 500] [--seed 1] [--from 0] [--only NUMBER ...] [--kind KIND ...]

Each pair is a piece and what a loudspeaker, a room, a compressor or a remaster makes of it, equally loud, at 48 kHz,
5 to 20 s long, in step. A compressor and a remaster do move the gain: findings of `MOVED` count for them as right. It
reports rates and asserts nothing; `--only` looks at some of them again, `--from` goes on with a run that ended early.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audio.clip import Clip
from audio.giveaways import inspection
from audio.giveaways.findings import Finding
from audio.levels.weighting import level_db
from tests import families

RATE_HZ = 48_000
REPORTED_AFTER = 50  # pairs
Samples = NDArray[np.float64]
Change = Callable[[np.random.Generator, Samples], Samples]


def _room(length_s: float, direct_db: float) -> Change:
    return lambda rng, x: families.room(rng, x, length_s, direct_db, RATE_HZ)


def _both(first: Change, second: Change) -> Change:
    return lambda rng, x: second(rng, first(rng, x))


EQUALISER: Change = lambda rng, x: families.equaliser(rng, x, RATE_HZ)  # noqa: E731
FAMILIES: dict[str, tuple[Change | None, Change]] = {
    "copy": (None, lambda _, x: x.copy()),
    "equaliser": (None, EQUALISER),
    "two equalisers": (EQUALISER, EQUALISER),
    "crossover": (None, lambda rng, x: families.crossover(rng, x, RATE_HZ)),
    "room 0.3 s": (None, _room(0.3, 6.0)),
    "room 0.8 s": (None, _room(0.8, 0.0)),
    "two rooms": (_room(0.4, 3.0), _room(0.6, 3.0)),
    "equaliser in a room": (None, _both(EQUALISER, _room(0.5, 3.0))),
    "quiet noise": (None, lambda rng, x: families.noisy(rng, x, 70.0)),
    "compressor": (None, lambda _, x: families.compressed(x, 4.0, RATE_HZ)),
    "remaster": (None, lambda rng, x: families.remastered(rng, x, RATE_HZ)),
}
MOVES_GAIN = {"compressor", "remaster"}
MOVED = {"gain", "limiter", "clipping", "width"}


@dataclass(frozen=True)
class Pair:
    """Two recordings of one piece that differ by a family alone, equally loud."""

    family: str
    reference: Clip
    other: Clip


def pairs(count: int, seed: int) -> Iterator[Pair]:
    """So many pairs, the families in turn; the same ones for the same seed."""
    return (pair(number, seed) for number in range(count))


def pair(number: int, seed: int) -> Pair:
    """The pair of that number, counted from 0, made alone."""
    rng = np.random.default_rng([seed, 20_000 + number])
    length_s = float(rng.choice([5.0, 10.0, 15.0, 20.0]))
    kind = int(rng.integers(0, 5))  # some without drums, some nothing but drums, some a loop
    events = families.score(rng, length_s, drums=kind != 0, tonal=kind != 1)
    piece = families.played(events, length_s, RATE_HZ)
    if kind == 2:
        turn = piece[: round(float(rng.uniform(1.0, 3.0)) * RATE_HZ)]
        piece = np.tile(turn, (int(np.ceil(len(piece) / len(turn))), 1))[: len(piece)]
    name = list(FAMILIES)[number % len(FAMILIES)]
    first, second = FAMILIES[name]
    one, two = (first(rng, piece) if first else piece), second(rng, piece)
    one, two = (families.noisy(rng, each, 90.0) for each in (one, two))
    return Pair(name, *_equally_loud(one, two))


def _equally_loud(one: Samples, two: Samples) -> tuple[Clip, Clip]:
    made = []
    for samples in (one, two):
        level = level_db(Clip(samples, RATE_HZ), "bs1770")
        assert level is not None
        made.append(Clip(samples * 10 ** ((-26.0 - level) / 20), RATE_HZ))
    return made[0], made[1]


def alarms(of: Pair, kinds: Collection[str] | None = None) -> list[Finding]:
    """The findings of a pair that are none; of these kinds alone, if any are given."""
    found = inspection.inspect("p", {"one": of.reference, "two": of.other})
    right = MOVED if of.family in MOVES_GAIN else set()
    return [each for each in found if each.kind not in right and (kinds is None or each.kind in kinds)]


def main() -> None:
    """Each finding that is none, with its pair; then a line a family: how many pairs, how many wrong, which kinds."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--pairs", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--from", type=int, default=0, dest="first", metavar="NUMBER", help="the first pair's number")
    asked.add_argument("--only", type=int, action="append", metavar="NUMBER", help="these pairs alone")
    asked.add_argument("--kind", action="append", help="count these kinds alone")
    options = asked.parse_args()
    made: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    kinds: dict[str, Counter[str]] = {name: Counter() for name in FAMILIES}
    began = time.process_time()
    for number in options.only or range(options.first, options.first + options.pairs):
        each = pair(number, options.seed)
        found = alarms(each, options.kind)
        made[each.family] += 1
        wrong[each.family] += bool(found)
        kinds[each.family].update({one.kind for one in found})
        for one in found:
            print(f"pair {number} of seed {options.seed}, {each.family}: {one.kind}: {one.what}", flush=True)
        if sum(made.values()) % REPORTED_AFTER == 0:
            print(f"{sum(made.values())} pairs, to number {number}: {sum(wrong.values())} wrong", flush=True)
    for name, count in made.items():
        said = ", ".join(f"{kind} {times}" for kind, times in kinds[name].most_common())
        print(f"{name:22} {wrong[name]:4} of {count:4}  {said}")
    print(f"{'all':22} {sum(wrong.values()):4} of {sum(made.values()):4}  ({time.process_time() - began:.0f} s of CPU)")


if __name__ == "__main__":
    main()
