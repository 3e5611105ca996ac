"""What is said of a ballot with too few trials for its words: what they do find, and what would be needed. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stats.estimates import PowerEstimate


def percent(share: float) -> str:
    """A share as people read it."""
    return f"{100 * share:.0f} %"


def trials_of(document: Mapping[str, Any]) -> int:
    """How many trials count, of all listeners."""
    return int(document["trials"]) * len(document["listeners"])


def ticked_of_two(document: Mapping[str, Any], reverse_rate: float, wanted: float) -> str:
    """The rest of a sentence on ticks of two setups: what is found of a word that now and then goes the other way."""
    from stats import ballot_power

    trials, words, alpha = trials_of(document), len(document["words"]), float(document["alpha"])
    least = ballot_power.least_differing(words, alpha)
    if trials < least:
        return (
            "no word can be found, not even one ticked of the one alone in every trial: that begins with "
            f"{least} trials."
        )
    most = 1 - reverse_rate
    power = ballot_power.ballot_power(most, reverse_rate, trials, words, alpha)
    needed = ballot_power.pairs_needed(most, reverse_rate, words, alpha, wanted)
    told = (
        f"a word that goes the wrong way in {percent(reverse_rate)} of the trials (which is taken for granted here) is "
        f"not likely to be found, that is by {percent(wanted)} of such plans: ticked of the right one alone in all "
        f"other trials, it is found by {percent(power)}"
    )
    told += f"; {needed} trials would be needed." if needed is not None else "."
    return (
        f"{told} A word never ticked of the wrong one alone is found where it is ticked of the right one alone in at "
        f"least {least} of the {trials} trials."
    )


def ticked_of_many(document: Mapping[str, Any], reverse_rate: float, wanted: float) -> str:
    """The same of ticks of more than two setups."""
    from stats import many_setups_power

    trials, setups = trials_of(document), len(document["setups"])
    share = float(document["alpha"]) / len(document["words"])
    least = many_setups_power.least_trials(setups, share, rated=False)
    if trials < least:
        return (
            "no word can be found, not even one ticked of one setup alone in every trial: that begins with "
            f"{least} trials."
        )
    power = many_setups_power.ticks_power(1.0, reverse_rate, setups, trials, share)
    return (
        f"a word that is ticked of each wrong setup in {percent(reverse_rate)} of the trials (which is taken for "
        f"granted here) is not likely to be found, that is by {percent(wanted)} of such plans: ticked of the right one "
        f"in every trial, it is found by about {_about(power)}. A word never ticked of a wrong one is found where it "
        f"is ticked of the right one in at least {least} of the {trials} trials."
    )


def _about(power: PowerEstimate) -> str:
    """A power with how far off the truth may lie, 95 % of the time, where it was simulated."""
    told = percent(power.power)
    return told if power.error is None else f"{told} (simulated, ± {percent(1.96 * power.error)})"


def rated(document: Mapping[str, Any], most_sd: float) -> str:
    """The same of ratings, of two setups and of more."""
    from stats import many_setups_power, sign_flip_power

    setups, share = len(document["setups"]), float(document["alpha"]) / len(document["words"])
    least = (
        many_setups_power.least_trials(setups, share, rated=True)
        if setups > 2
        else sign_flip_power.least_trials(share, two_sided=True)
    )
    if trials_of(document) < least:
        return f"no word can be found, whatever is rated: that begins with {least} trials."
    return (
        f"no word is likely to be found whose ratings differ by up to {most_sd:g} times as much as they "
        "vary; more trials would be needed."
    )
