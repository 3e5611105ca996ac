"""Which words of a report are blind: those said of what their trial hid."""

from __future__ import annotations

import pytest

from sessions.plans.methods.table import METHODS
from sessions.words.blindness import LABELS, TrialSaidIn, label
from sessions.words.log import LoggedWord
from tests.records import plan

NAMED = {"abx": {"A", "B"}, "hidden-reference": {"R"}, "multi-stimulus": {"R"}}


def word(*, blind: bool, stimulus: str | None = None) -> LoggedWord:
    return LoggedWord(
        id="w", at="", listener="Ada", setup=None, track=None, trial=None if stimulus is None else "t",
        stimulus=stimulus, term="grainy", strength=2, track_ms=None, blind=blind, note="", corrects=None,
        corrected=False,
    )  # fmt: skip


def test_there_are_three_labels_and_no_more() -> None:
    assert LABELS == ("in a blind trial", "said to be blind", "sighted")


@pytest.mark.parametrize("blind", [False, True])  # as it was logged: older casebooks call all words of trials blind
@pytest.mark.parametrize("method", METHODS)
def test_only_what_the_trial_hid_is_blind(method: str, blind: bool) -> None:
    made = plan(method, 6).method
    for stimulus in made.stimuli:
        named = stimulus in NAMED.get(method, set())
        said = word(blind=blind, stimulus=stimulus)
        assert label(said, TrialSaidIn(made.named_stimuli, counts=True)) == ("sighted" if named else "in a blind trial")
        assert label(said, TrialSaidIn(made.named_stimuli, counts=False)) == (
            "sighted" if named else "said to be blind"
        )


def test_outside_of_a_trial_nobody_can_check_it() -> None:
    assert label(word(blind=True), None) == "said to be blind"
    assert label(word(blind=False), None) == "sighted"
