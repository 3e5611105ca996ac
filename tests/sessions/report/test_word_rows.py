"""Which words of a report are blind: those said of what their trial hid."""

from __future__ import annotations

import pytest

from sessions.plans.methods.table import METHODS
from sessions.report.word_rows import how_blind
from sessions.words.log import LoggedWord
from tests.records import plan

NAMED = {"abx": {"A", "B"}, "hidden-reference": {"R"}, "multi-stimulus": {"R"}}


def word(*, blind: bool, stimulus: str | None = None) -> LoggedWord:
    return LoggedWord(
        id="w", at="", listener="Ada", setup=None, track=None, trial=None if stimulus is None else "t",
        stimulus=stimulus, term="grainy", strength=2, track_ms=None, blind=blind, note="", corrects=None,
        corrected=False,
    )  # fmt: skip


@pytest.mark.parametrize("method", METHODS)
def test_only_what_the_trial_hid_is_blind(method: str) -> None:
    made = plan(method, 6)
    for label in made.method.stimuli:
        named = label in NAMED.get(method, set())
        found = how_blind(word(blind=True, stimulus=label), made)
        assert found == (f"sighted: {label} is named" if named else "blind")


def test_outside_of_a_trial_nobody_can_check_it() -> None:
    assert how_blind(word(blind=True), None) == "said to be blind"
    assert how_blind(word(blind=False), None) == "sighted"
