"""Hidden-reference grading (ITU-R BS.1116; its text was not at hand): the t-test of difference grades.

Student's sleep differences and their results are from memory (a textbook standard), recomputed; the grades computed.
"""

from __future__ import annotations

import pytest

from stats import hidden_reference

SLEEP = [1.2, 2.4, 1.3, 1.3, 0, 1, 1.8, 0.8, 4.6, 1.4]


def test_students_sleep_data() -> None:
    found = hidden_reference.expertise([-hours for hours in SLEEP])
    assert found.mean == pytest.approx(-1.58)
    assert found.sd == pytest.approx(1.229995, abs=5e-7)
    assert found.t == pytest.approx(-4.062128, abs=5e-7)
    assert found.freedom == 9
    assert found.p_value == pytest.approx(0.0014164, abs=5e-8)
    assert (found.low, found.high) == (pytest.approx(-2.4599, abs=5e-5), pytest.approx(-0.7001, abs=5e-5))


def test_difference_grades_of_one_listener() -> None:
    found = hidden_reference.expertise([-0.5, -1.0, 0.2, -0.8, -0.3, -1.2, 0, -0.6])
    assert found.mean == pytest.approx(-0.525)
    assert found.sd == pytest.approx(0.48033, abs=5e-6)
    assert found.t == pytest.approx(-3.09148, abs=5e-6)
    assert found.p_value == pytest.approx(0.008765, abs=5e-7)
