"""What is named to the listener stands for the same setup in every trial, whatever the key; nothing else does."""

from __future__ import annotations

import pytest

from sessions.plans import trial_keys
from sessions.plans.methods.table import METHODS
from sessions.plans.words_in_trials import named
from tests.records import plan

SECRETS = [bytes([number]) * 32 for number in range(12)]


@pytest.mark.parametrize("method", METHODS)
def test_what_is_named_is_told_of_no_key(method: str) -> None:
    made = plan(method, 6)
    keys = [
        trial_keys.key(made, secret, "listener-0", trial, 1) for secret in SECRETS for trial in range(1, made.slots + 1)
    ]
    for place, label in enumerate(named(made)):
        assert {key[label] for key in keys} == {place}
    hidden = set(made.method.stimuli) - set(made.method.named_stimuli)
    assert all(len({key[label] for key in keys}) > 1 for label in hidden)


def test_in_a_plan_with_controls_nothing_is_named_before_its_end() -> None:
    made = plan("abx", 6, controls=2)
    keys = [
        trial_keys.key(made, secret, "listener-0", trial, 1) for secret in SECRETS for trial in range(1, made.slots + 1)
    ]
    assert {key["B"] for key in keys} == {0, 1}  # so that a name for B would be wrong in a control
    assert named(made) == ()
