"""Hidden-reference grading (ITU-R BS.1116; its text was not at hand): difference grades of one listener.

Student's sleep differences and the interval of their mean are from memory (a textbook standard), recomputed, as is the
exact p of their signs: one difference is 0, all others lie on one side, so that it is one case in 2⁹. The grades and
their interval are computed.
"""

from __future__ import annotations

import pytest

from stats import hidden_reference

SLEEP = [1.2, 2.4, 1.3, 1.3, 0, 1, 1.8, 0.8, 4.6, 1.4]


def test_students_sleep_data() -> None:
    found = hidden_reference.expertise([-hours for hours in SLEEP])
    assert found.mean == pytest.approx(-1.58)
    assert found.sd == pytest.approx(1.229995, abs=5e-7)
    assert (found.low, found.high) == (pytest.approx(-2.4599, abs=5e-5), pytest.approx(-0.7001, abs=5e-5))
    assert found.p_value == 2**-9


def test_difference_grades_of_one_listener() -> None:
    """The sum is -4.2 of at most 4.6: only 0.2 below 0 as well is lower, and 0.2 itself is as low."""
    found = hidden_reference.expertise([-0.5, -1.0, 0.2, -0.8, -0.3, -1.2, 0, -0.6])
    assert found.mean == pytest.approx(-0.525)
    assert found.sd == pytest.approx(0.48033, abs=5e-6)
    assert found.p_value == 2 / 2**7
