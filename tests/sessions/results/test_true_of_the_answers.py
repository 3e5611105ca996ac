"""What a verdict's sentences say is true of the answers that were given, whatever those were."""

from __future__ import annotations

import pytest

from sessions.report import trial_strips
from sessions.results import terms
from tests.records import RIGHT, WRONG, plan, record

TOO_LOUD = {"match": {"sheet": "0" * 64, "by": "bs1770", "residual_lu": "0.3000", "tolerance_lu": "0.1"}}
STEP = {"known": {"trials": 6, "step_db": "-0.5", "residual_lu": "0.0000"}}


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("proportion 0.45 to 0.84 (95 % exact)", "in at least 95 of 100 tests"),
        ("in 6 of 6 trials (95 % exact interval 0.54 to 1.00", "in at least 95 of 100 tests"),
        ("in up to 64 % of the trials (95 % confidence)", "in at least 95 of 100 tests"),
        ("it rules out (95 %) that it is truly heard", "in at least 95 of 100 tests"),
        ("can hear it (95 % for both bounds together)", "in at least 95 of 100 tests"),
        ("0.45 to 0.84 (95 % at any stopping)", "in at least 95 of 100 tests, whenever one of them stops"),
        ("grade -0.50 (95 % -0.90 to -0.10)", "in about 95 of 100 tests"),
    ],
)
def test_an_interval_that_is_exact_holds_the_true_value_at_least_so_often(said: str, meaning: str) -> None:
    """Clopper and Pearson's interval covers at least its level (Brown, Cai and DasGupta 2001; from memory)."""
    [line] = [line for line in terms.explained([said]) if line.startswith("95 %")]
    assert line.endswith(meaning)


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
