"""The assistant's printed cards: what to connect in every trial, where they work without a screen. Pure."""

from __future__ import annotations

from . import players
from .trial_order import TrialOrder


def cards(order: TrialOrder, offers: int = 2) -> list[str]:
    """For each trial and each time it is offered, what to connect for every label.

    They follow from the sealed secret, so they are shuffled as the trials are; whoever reads them knows the key.
    """
    plan, made = order.plan, []
    for trial in range(1, plan.slots + 1):
        for offer in range(1, offers + 1):
            key = order.key(trial, offer)
            lines = [f"  {label}: {players.instruction(plan, key[label])}" for label in plan.method.stimuli]
            again = "" if offer == 1 else f", offered again ({offer})"
            made.append("\n".join([f"Trial {trial}{again}", *lines]))
    return made
