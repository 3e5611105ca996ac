"""Where transformed up-down rules settle: H. Levitt, "Transformed up-down methods in psychoacoustics", J. Acoust. Soc.
Am. 49, 467 to 477, 1971. The shares are quoted from memory: 0.707 for two right answers a step down, 0.794 for three.
"""

from __future__ import annotations

import pytest
from numpy.random import PCG64, Generator

from stats.up_down import UpDown, course


@pytest.mark.parametrize(("down", "share"), [(1, 0.5), (2, 0.707), (3, 0.794)])
def test_the_sizes_settle_where_the_rule_says(down: int, share: float) -> None:
    """Listeners who hear each size in a share of their own are brought to sizes heard about that often."""
    rule = UpDown(sizes=21, start=18, down=down, turns=10_000, most=10_000)
    assert rule.settles_at == pytest.approx(share, abs=5e-4)
    heard = [place / 20 for place in range(21)]
    rng, shares = Generator(PCG64(5)), list[float]()
    for _ in range(12):
        draws, right = rng.random(220), list[bool]()
        at = course(rule, right).places[-1]
        for number, draw in enumerate(draws):
            right.append(bool(draw < heard[at]))
            at = course(rule, right).places[-1]
            if number >= 40:
                shares.append(heard[at])
    assert sum(shares) / len(shares) == pytest.approx(share, abs=0.03)
