"""What each trial of a session plays: its passage and its key, from the plan and a secret. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..plans import trial_keys
from ..plans.methods.method import Key, Method
from ..plans.plan import Plan
from ..plans.plan_parts import PlannedPassage


@dataclass(frozen=True)
class TrialOrder:
    """The order of one listener's trials. `listener` names them in every draw; it is not their name."""

    plan: Plan
    secret: bytes = field(repr=False)
    listener: str

    def passage(self, trial: int) -> PlannedPassage:
        """The passage of a trial, counted from 1."""
        passages = self.plan.passages
        return passages[trial_keys.passage_index(self.secret, self.listener, trial, len(passages))]

    @property
    def method(self) -> Method:
        """The plan's method as this listener meets it."""
        return trial_keys.met(self.plan, self.secret, self.listener)

    def key(self, trial: int, offer: int) -> Key:
        """The key of a trial when it is offered for the `offer`-th time, from 1."""
        return trial_keys.key(self.plan, self.secret, self.listener, trial, offer)
