"""What is said of a trial that playback faults disturbed: their kinds and counts, nothing of what was played."""

from __future__ import annotations

from collections.abc import Mapping

MANY_IN_A_ROW = 3
ASKED_FROM = 4  # trials disturbed in a row, after which nobody is kept waiting for yet another
HELPS = (
    "What helps: a larger buffer of the sound server, and other programs closed; earwitness doctor tests this machine."
)


def sentence(risen: Mapping[str, int], in_a_row: int) -> str:
    """What disturbed a trial, with how many in a row there were, and what helps if that goes on."""
    again = "this trial starts afresh, in fresh random order."
    if in_a_row >= MANY_IN_A_ROW:
        again += f" {in_a_row} times in a row now."
    if "switch_failures" in risen:  # what it complained of could name a setup; it stays with the fault
        return f"The switch failed and is tried for every setup: {again}"
    ones = {kind: kind.removesuffix("s") if count == 1 else kind for kind, count in risen.items()}
    what = " and ".join(f"{count} {ones[kind].replace('_', ' ')}" for kind, count in risen.items())
    said = f"The sound was disturbed ({what}): {again}"
    return f"{said} {HELPS}" if in_a_row >= MANY_IN_A_ROW else said
