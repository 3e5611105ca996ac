"""What a verdict's sentences say is true of the answers that were given, whatever those were."""

from __future__ import annotations

import pytest

from sessions.report import trial_strips
from tests.records import RIGHT, WRONG, plan, record

TOO_LOUD = {"match": {"sheet": "0" * 64, "by": "bs1770", "residual_lu": "0.3000", "tolerance_lu": "0.1"}}
STEP = {"known": {"trials": 6, "step_db": "-0.5", "residual_lu": "0.0000"}}


class TestStrips:
    @pytest.mark.parametrize(("how", "said"), [(RIGHT, "rightly"), (WRONG, "wrongly")])
    @pytest.mark.parametrize("method", ["abx", "same-different", "hidden-reference"])
    def test_one_trial_of_a_known_difference_is_told_as_answered_not_as_heard(
        self, method: str, how: str, said: str
    ) -> None:
        made = plan(method, 8, stated=STEP)
        marks = [one for strip in trial_strips.of(record(made, [[RIGHT] * 8], known=[how] * 6)) for one in strip.marks]
        known = [one.says for one in marks if one.state == "known"]
        assert len(known) == 6
        assert all(f"the known difference, answered {said}, sureness" in one for one in known)
