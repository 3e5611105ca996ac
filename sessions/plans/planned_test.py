"""The planned test of each method: criterion, power, stopping rule, and what they cost; the part of a plan that counts.

It turns the numbers of a wish into the words and whole numbers that are sealed. `stats` does the arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from stats import binomial
from stats import binomial_power as power_of
from stats.counted_methods import with_direction
from stats.validation import Alternative

from ..errors import PlanError
from .methods import Method

if TYPE_CHECKING:
    from stats.sequential.boundaries import Boundaries

FIXED, SPRT, E_PROCESS = "fixed", "sprt", "e-process"
RULES = (FIXED, SPRT, E_PROCESS)
POLICIES = ("not offered", "drop", "split")

STOPPING = {
    FIXED: "fixed: all trials are run, and no score is shown before the end",
    SPRT: "sprt: Wald's sequential probability ratio test, cut off at the greatest number of trials; stops only where "
    "its boundaries say",
    E_PROCESS: "e-process: stops, heard, as soon as the uniform mixture reaches 1/alpha; given up only when it is out "
    "of reach, or at the greatest number of trials",
}
TESTS = {
    "count": "exact binomial test of the count, {side}",
    "hidden-reference": "exact randomisation test of the difference grades, one-sided: each sign is a fair coin if the "
    "reference cannot be told from the other",
    "multi-stimulus": "permutation test of the difference of medians for each pair of setups (grades exchanged in a "
    "trial), Holm-corrected over the pairs, after post-screening by ITU-R BS.1534-3",
    "round-robin": "randomisation test that all setups are preferred equally often: each choice is then a fair coin",
}
SIZED_IN_SD = ("hidden-reference", "multi-stimulus")  # their effect is a mean difference in standard deviations
SIMULATED_SEED = 1  # of the round robin's power; stated in the plan


@dataclass(frozen=True)
class Numbers:
    """What decides a test: total trials of all listeners, error rate, effect, stopping rule."""

    trials: int
    alpha: str
    effect: str
    beta: str = "0.1"
    rule: str = FIXED
    ties: str = "not offered"
    one_sided: bool = False


def usual_effect(method: Method) -> str:
    """The effect to be found where nobody says another."""
    if method.name in SIZED_IN_SD:
        return "0.8"  # a large effect after Cohen 1988 (from memory); common practice
    if method.family == "pairs":
        return "0.75"
    share = float(with_direction(method.name, None).usual_effect)
    return f"{share:.4f}".rstrip("0")


def check_numbers(method: Method, numbers: Numbers, listeners: int) -> None:
    """Nothing, if a plan of this method may have these numbers.

    Raises
    ------
    PlanError
        If they do not fit; the message says what would.
    """
    effect = float(numbers.effect)
    if method.name in SIZED_IN_SD:
        if not 0 < effect <= 5:
            raise PlanError(
                f"--effect {numbers.effect} is out of range; for {method.name} give the mean difference to be found in "
                "standard deviations, above 0 and up to 5"
            )
    else:
        chance = _chance(method)
        if not chance < effect <= 1 or f"{effect:.4f}" == f"{chance:.4f}":
            raise PlanError(
                f"--effect {numbers.effect} is out of range; give the proportion to find, above {chance:.2g} and up "
                "to 1"
            )
    if numbers.ties != "not offered" and method.name != "preference":
        raise PlanError(f"ties can be offered in a preference only, not in {method.name}; leave --ties out")
    if numbers.one_sided and method.name != "preference":
        raise PlanError(f"{method.name} has its own side; --one-sided is for a preference")
    if numbers.rule == FIXED:
        return
    if method.family != "count":
        raise PlanError(f"{method.name} runs to its end; a sequential rule is for methods whose answers are counted")
    if listeners != 1:
        raise PlanError(
            "a sequential plan has one listener: its boundaries follow one row of answers; plan one for each"
        )
    if numbers.ties != "not offered":
        raise PlanError("a sequential plan offers no ties; leave --ties out or let the plan run to its end")
    if not Decimal("0.001") <= Decimal(numbers.beta) <= Decimal("0.5"):
        raise PlanError(f"--beta {numbers.beta} is out of range; give 0.001 to 0.5, usually 0.1")
    if numbers.rule == SPRT and effect >= 1:
        raise PlanError("--effect 1 leaves the sequential ratio test no room; give a proportion below 1")


def stated(method: Method, numbers: Numbers, setups: int) -> dict[str, Any]:
    """The part of a plan's document that fixes its test."""
    alternative = _alternative(method, numbers)
    document: dict[str, Any] = {
        "alpha": numbers.alpha,
        "alternative": alternative,
        "effect": numbers.effect,
        "ties": numbers.ties,
        "stopping": STOPPING[numbers.rule],
        "criterion": "none",
    }
    if method.family == "count":
        side = "two-sided" if alternative == "two-sided" else "one-sided against guessing"
        if method.asks_preference and alternative == "greater":
            side = "one-sided: the first setup is foreseen to be preferred"
        document["test"] = TESTS["count"].format(side=side)
    else:
        document["test"] = TESTS[method.name]
    if numbers.rule != FIXED:
        return document | _sequential(method, numbers, alternative)
    if method.family == "count":
        chance, alpha = with_direction(method.name, None).chance, float(numbers.alpha)
        criterion = binomial.critical(numbers.trials, alpha, chance, alternative)
        reached = power_of.power(numbers.trials, float(numbers.effect), alpha, float(chance), alternative)
        document["criterion"] = "none" if criterion is None else criterion
        return document | {"power": f"{reached.power:.4f}"}
    return document | {"power": f"{_other_power(method, numbers, setups):.4f}"}


def region_of(numbers: Numbers, method_name: str, alternative: Alternative) -> Boundaries:
    """The boundaries of a sequential rule."""
    from stats.sequential.e_process import e_process
    from stats.sequential.sprt import sprt

    chance, alpha = float(with_direction(method_name, None).chance), float(numbers.alpha)
    if numbers.rule == SPRT:
        return sprt(numbers.trials, float(numbers.effect), alpha, float(numbers.beta), chance, alternative)
    return e_process(numbers.trials, alpha, chance, alternative)


def characteristics(region: Boundaries, method_name: str, effect: str) -> dict[str, str]:
    """What a sequential rule does, exactly: real error rate, power, and how many trials it takes."""
    from stats.sequential import operating_characteristics

    chance = float(with_direction(method_name, None).chance)
    guessing, hearing = (operating_characteristics.characteristics(region, share) for share in (chance, float(effect)))
    return {
        "alpha_real": f"{guessing.heard:.4f}",
        "power": f"{hearing.heard:.4f}",
        "expected_trials_guessing": f"{guessing.expected_trials:.1f}",
        "expected_trials_effect": f"{hearing.expected_trials:.1f}",
        "median_trials_effect": str(hearing.median_trials),
    }


def _sequential(method: Method, numbers: Numbers, alternative: Alternative) -> dict[str, Any]:
    region = region_of(numbers, method.name, alternative)
    told = characteristics(region, method.name, numbers.effect)
    sequential = {"rule": numbers.rule, "boundaries": region.to_document()} | told
    if numbers.rule == SPRT:
        sequential["beta"] = numbers.beta
    return {"sequential": sequential, "power": told["power"]}


def _alternative(method: Method, numbers: Numbers) -> Alternative:
    if method.family != "count":
        return "greater" if method.name == "hidden-reference" else "two-sided"
    if numbers.one_sided:
        return "greater"
    return with_direction(method.name, None).alternative


def _chance(method: Method) -> float:
    return 0.5 if method.family != "count" else float(with_direction(method.name, None).chance)


def _other_power(method: Method, numbers: Numbers, setups: int) -> float:
    from numpy.random import PCG64, Generator

    alpha, effect = float(numbers.alpha), float(numbers.effect)
    if method.name == "hidden-reference":
        from stats import hidden_reference

        return hidden_reference.power(numbers.trials, effect, alpha)
    if method.name == "multi-stimulus":
        from stats import multi_stimulus

        compared = setups * (setups - 1) // 2
        return multi_stimulus.power(numbers.trials, effect, alpha / compared)
    from stats import round_robin

    rounds = numbers.trials // (setups * (setups - 1) // 2)
    return float(round_robin.power(setups, rounds, effect, alpha, Generator(PCG64(SIMULATED_SEED))))
