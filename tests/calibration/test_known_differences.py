"""Who hears the known difference perfectly and guesses the rest is found no more often than alpha says.

The keys that count are those of the same coins as without known differences (`tests/sessions/plans/test_trial_keys`),
so that the exact sums of `test_counted` hold; here nothing of that is assumed. `simulate` has the long form.
"""

from __future__ import annotations

from math import sqrt

import pytest

from sessions.plans import planned_test
from sessions.plans.plan import Plan
from tests.calibration.habits import HABITS
from tests.calibration.known_differences import PLANS, rate

SESSIONS = 50


def allowed(sessions: int) -> float:
    return 0.05 + 4 * sqrt(0.05 * 0.95 / sessions)


@pytest.mark.parametrize(("method", "rule"), PLANS)
def test_hearing_the_known_difference_makes_nothing_else_heard(method: str, rule: str) -> None:
    found = [rate(method, habit, rule, SESSIONS) for habit in HABITS]
    assert sum(found) / len(found) <= allowed(SESSIONS * len(found))


def test_it_would_if_known_differences_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Plan, "counts", lambda self, key: True)
    assert rate("abx", "fair", planned_test.SPRT, SESSIONS) > allowed(SESSIONS)
