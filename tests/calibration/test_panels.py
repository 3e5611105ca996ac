"""Panels that grade many stimuli and cannot tell the setups apart: whoever post-screening leaves out, alpha holds.

The guessers give 100 to one of the setups and 60 to 99 to the others, so that some miss the hidden reference and some
do not; a rule that keeps those who hit it would find a difference in what it selected. `--sessions` of `simulate` runs
more of them.
"""

from __future__ import annotations

import zlib
from math import sqrt

import pytest
from numpy.random import PCG64, Generator

from sessions.plans.methods.multi_stimulus import SCREENED_BY_REFERENCE
from sessions.plans.plan import Plan
from sessions.results.outcome import QualityGrades
from sessions.results.ratings import quality_grades
from tests.calibration.plans import judged, plan
from tests.calibration.simulate import PANELS, TRIALS_EACH, guessed_grades, panel_rate

NUMBER = 60


@pytest.mark.parametrize("trials", TRIALS_EACH)
@pytest.mark.parametrize("listeners", PANELS)
def test_a_panel_of_guessers_keeps_alpha(listeners: int, trials: int) -> None:
    assert panel_rate(listeners, trials, NUMBER) <= 0.05 + 4 * sqrt(0.05 * 0.95 / NUMBER)


def test_screening_by_the_reference_would_select_a_difference() -> None:
    """So that the rule of before would be found here."""
    assert panel_rate(20, 2, NUMBER, by_reference=True) > 0.05 + 4 * sqrt(0.05 * 0.95 / NUMBER)


def test_who_is_left_out_has_no_part_in_what_is_tested() -> None:
    """The same panel with the grades of two setups exchanged in some trials keeps the same listeners."""
    rng = Generator(PCG64(zlib.crc32(b"exchanged")))
    given = guessed_grades(10, 5, rng)
    turned = {
        name: {
            item: grades | ({0: grades[1], 1: grades[0]} if rng.random() < 0.5 else {}) for item, grades in own.items()
        }
        for name, own in given.items()
    }
    places = ("reference", "one", "two", "low", "mid")
    kept = [quality_grades(one, places, 3, 4, 50, 0.05).kept for one in (given, turned)]
    assert kept[0] == kept[1]


def test_a_plan_is_judged_by_the_exclusions_it_was_sealed_with() -> None:
    made = plan("multi-stimulus", 2)
    key = {"R": 0, "1": 0, "2": 1, "3": 2, "4": 3, "5": 4}
    answers = [(key, '{"1": "50", "2": "100", "3": "60", "4": "20", "5": "40"}')] * 2
    before = Plan({**made.document, "exclusions": SCREENED_BY_REFERENCE})
    now = Plan({**made.document, "exclusions": made.method.exclusions})
    old, new = judged(before, answers), judged(now, answers)
    assert isinstance(old, QualityGrades)
    assert isinstance(new, QualityGrades)
    assert (old.kept, dict(old.excluded)) == ((), {"Ada": "graded the hidden reference below 90 in 2 of 2 items"})
    assert (new.kept, dict(new.excluded)) == (("Ada",), {})
    assert dict(new.missed_reference) == {"Ada": "graded the hidden reference below 90 in 2 of 2 items"}
