"""How fast power curves and exact tests are, as ratios to plain loops over scipy in the same run.

Run by hand: python tests/benchmarks/power_curves.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

from scipy.stats import binom, binomtest

from stats import binomial, binomial_power
from stats.sequential import e_process
from stats.sequential.operating_characteristics import characteristics
from stats.sequential.sprt import sprt


def seconds(work: Callable[[], object], times: int = 5) -> float:
    """The shortest of several runs."""
    best = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return best


def plain_curve() -> list[float]:
    reached = []
    for trials in range(1, 501):
        needed = next(k for k in range(trials + 2) if binom.sf(k - 1, trials, 0.5) <= 0.05)
        reached.append(float(binom.sf(needed - 1, trials, 0.75)))
    return reached


def plain_recursion(trials: int) -> float:
    """The error rate of the e-process by the whole lattice, count by count, without bounds."""
    region = e_process.e_process(trials)
    going, heard = {0: 1.0}, 0.0
    for n in range(1, trials + 1):
        reached: dict[int, float] = {}
        for count, chance in going.items():
            reached[count] = reached.get(count, 0.0) + chance / 2
            reached[count + 1] = reached.get(count + 1, 0.0) + chance / 2
        going = {}
        for count, chance in reached.items():
            decided = region.decision(n, count)
            heard += chance if decided == "heard" else 0.0
            if decided is None:
                going[count] = chance
    return heard


def sequential() -> None:
    """Boundaries and exact characteristics of sequential plans of up to 2,000 trials."""
    for name, made in (
        ("sprt", lambda: sprt(2000, 0.75)),
        ("sprt, two-sided", lambda: sprt(2000, 0.75, alternative="two-sided")),
        ("e-process", lambda: e_process.e_process(2000)),
    ):
        region = made()
        design, known = (
            seconds(made, 3),
            seconds(lambda r=region: characteristics(r, 0.75), 3),
        )
        print(f"{name}, 2,000 trials: boundaries {1000 * design:.0f} ms, error rate or power {1000 * known:.0f} ms")
    ours = seconds(lambda: characteristics(e_process.e_process(400), 0.5), 3)
    plain = seconds(lambda: plain_recursion(400), 1)
    print(f"e-process of 400 trials: {1000 * ours:.0f} ms, plain recursion {plain / ours:.0f} times as long")


def main() -> None:
    binomial_power.curve(1, 10, 0.75, 0.05)  # imports
    ours, plain = seconds(lambda: binomial_power.curve(1, 500, 0.75, 0.05)), seconds(plain_curve, 1)
    print(f"power curve over 1-500 trials: {1000 * ours:.2f} ms, plain loop {plain / ours:.0f} times as long")
    ours = seconds(lambda: [binomial.binomial_test(k, 200) for k in range(201)])
    plain = seconds(lambda: [binomtest(k, 200, alternative="greater") for k in range(201)])
    print(f"201 exact tests of 200 trials: {1000 * ours:.2f} ms, scipy {plain / ours:.1f} times as long")
    sequential()


if __name__ == "__main__":
    main()
