"""How fast power curves and exact tests are, as ratios to plain loops over scipy in the same run.

Run by hand: python tests/benchmarks/power_curves.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

from scipy.stats import binom, binomtest

from stats import binomial, power


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


def main() -> None:
    power.curve(1, 10, 0.75, 0.05)  # imports
    ours, plain = seconds(lambda: power.curve(1, 500, 0.75, 0.05)), seconds(plain_curve, 1)
    print(f"power curve over 1-500 trials: {1000 * ours:.2f} ms, plain loop {plain / ours:.0f} times as long")
    ours = seconds(lambda: [binomial.binomial_test(k, 200) for k in range(201)])
    plain = seconds(lambda: [binomtest(k, 200, alternative="greater") for k in range(201)])
    print(f"201 exact tests of 200 trials: {1000 * ours:.2f} ms, scipy {plain / ours:.1f} times as long")


if __name__ == "__main__":
    main()
