"""The part of a plan that fixes its test: numbers in, criterion, power and stopping rule out. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from itertools import count
from math import ceil
from typing import TYPE_CHECKING, Any

from stats.errors import StatsError
from stats.validation import Alternative

from ..casebook import name_rule
from ..errors import PlanError
from .methods.counted import CountedMethod
from .methods.method import Method

if TYPE_CHECKING:
    from stats.sequential.boundaries import Boundaries

FIXED, SPRT, E_PROCESS = "fixed", "sprt", "e-process"
RULES = (FIXED, SPRT, E_PROCESS)
LEAST_POWER = 0.5  # below it a difference of the size looked for is more likely missed than found
USUAL_POWER = 0.8  # the convention (Cohen 1988, from memory)
FAINTEST_CHANGE_DB = -60.0  # music at 85 dB(A), played loudly: what changes lies in a quiet room's noise; no source
LONGEST_DECIMAL = 20  # signs: more digits than a plan's sentences can show, or its test can tell apart
KNOWN_ALPHA = 0.05  # whether known differences were heard more often than by guessing, one-sided
NO_TIES = "not offered"
POLICIES = (NO_TIES, "drop", "split")

STOPPING = {
    FIXED: "fixed: all trials are run, and no score is shown before the end",
    SPRT: "sprt: Wald's sequential probability ratio test, cut off at the greatest number of trials; stops only where "
    "its boundaries say",
    E_PROCESS: "e-process: stops, heard, as soon as the uniform mixture reaches 1/alpha; given up only when it is out "
    "of reach, or at the greatest number of trials",
}


@dataclass(frozen=True)
class Numbers:
    """What decides a test: total trials of all listeners, error rate, effect, stopping rule."""

    trials: int
    alpha: str
    effect: str
    beta: str = "0.1"
    rule: str = FIXED
    ties: str = NO_TIES
    one_sided: bool = False


@dataclass(frozen=True)
class SequentialBehaviour:
    """What a sequential rule does, exactly: real error rate, power, and how many trials it takes; decimals as text."""

    alpha_real: str
    power: str
    expected_trials_guessing: str
    expected_trials_effect: str
    median_trials_effect: str


def check_numbers(method: Method, numbers: Numbers, listeners: int) -> None:
    """Nothing, if a plan of this method may have these numbers.

    Raises
    ------
    PlanError
        If they do not fit; the message says what would.
    """
    method.check_effect(numbers.effect)
    if numbers.ties != NO_TIES and not method.ties_possible:
        raise PlanError(f"ties can be offered in a preference only, not in {method.name}; leave --ties out")
    if numbers.one_sided and not method.side_foreseeable:
        raise PlanError(f"{method.name} has its own side; --one-sided is for a preference")
    if numbers.rule == FIXED:
        return
    if not method.sequential_possible:
        raise PlanError(f"{method.name} runs to its end; a sequential rule is for methods whose answers are counted")
    if listeners != 1:
        raise PlanError(
            "a sequential plan has one listener: its boundaries follow one row of answers; plan one for each"
        )
    if numbers.ties != NO_TIES:
        raise PlanError("a sequential plan offers no ties; leave --ties out or let the plan run to its end")
    if not Decimal("0.001") <= Decimal(numbers.beta) <= Decimal("0.5"):
        raise PlanError(f"--beta {numbers.beta} is out of range; give 0.001 to 0.5, usually 0.1")
    if numbers.rule == SPRT and float(numbers.effect) >= 1:
        raise PlanError("--effect 1 leaves the sequential ratio test no room; give a proportion below 1")


def check_decimal(name: str, text: str, such_as: str = "0.05") -> None:
    """Nothing, if it is a decimal number as it stands in a plan; `such_as` is one that could be.

    Raises
    ------
    PlanError
        If it is not.
    """
    try:
        usable = "_" not in text and text.isascii() and Decimal(text).is_finite()  # Python lets 1_0 pass for 10
        usable = usable and len(text) <= LONGEST_DECIMAL
    except InvalidOperation:
        usable = False
    if not usable:
        raise PlanError(f"--{name} takes a decimal number such as {such_as}; got {name_rule.shown(text)}")


def stated(method: Method, numbers: Numbers, setups: int) -> dict[str, Any]:
    """The part of a plan's document that fixes its test."""
    alternative = method.alternative(one_sided=numbers.one_sided)
    document: dict[str, Any] = {
        "alpha": numbers.alpha,
        "alternative": alternative,
        "effect": numbers.effect,
        "ties": numbers.ties,
        "stopping": STOPPING[numbers.rule],
        "criterion": "none",
        "test": method.test_in_words(alternative),
    }
    if numbers.rule != FIXED and isinstance(method, CountedMethod):
        return document | _sequential(method, numbers, alternative)
    planned = method.planned(numbers.trials, float(numbers.effect), float(numbers.alpha), alternative, setups)
    criterion = "none" if planned.criterion is None else planned.criterion
    document |= {"criterion": criterion, "power": f"{planned.power:.4f}", "power_by": planned.power_by}
    if method.power_of:
        document["power_of"] = method.power_of
    if method.power_assumes and planned.power_error is not None:
        document["power_assumes"] = method.power_assumes
    document |= method.also_planned(numbers.trials, float(numbers.alpha))
    if planned.power_error is not None:
        document["power_error"] = f"{planned.power_error:.4f}"
    return document


def warnings(method: Method, document: Mapping[str, Any]) -> list[str]:
    """What is to be said of a draft whose test would probably miss what it looks for; empty where it would not.

    Parameters
    ----------
    document
        The plan's, with its test.
    """
    if not float(document["power"]) < LEAST_POWER:
        return []
    listeners, lines = len(document["listeners"]), []
    if shows_nothing(method, document):
        lines.append(
            f"These trials CANNOT show it, however plain it is: alpha {document['alpha']} is within reach from "
            f"{_least(method, document)} trials on, of all listeners together."
        )
    try:
        each = enough(method, document)
    except StatsError as error:
        return [*lines, f"Power is below {LEAST_POWER:g}: it would more likely be missed than found, and {error}."]
    whom = f"{each} trials" if listeners == 1 else f"{each} trials for each of the {listeners} listeners"
    length = "" if "sequential" not in document else " in a plan of fixed length, and some more at most in this one"
    return [
        *lines,
        f"Power is below {LEAST_POWER:g}: it would more likely be missed than found. {whom} would find it with power "
        f"{USUAL_POWER:g}{length}.",
    ]


def shows_nothing(method: Method, document: Mapping[str, Any]) -> bool:
    """Whether a plan has too few trials to find what it looks for, whatever is answered in them."""
    power = float(document["power"])
    return power < LEAST_POWER and document["trials"] * len(document["listeners"]) < _least(method, document)


def enough(method: Method, document: Mapping[str, Any]) -> int:
    """The trials for each listener with which a plan would find what it looks for with the usual power.

    Raises
    ------
    StatsError
        If more would be needed than are searched.
    """
    listeners, setups = len(document["listeners"]), len(document["setups"])
    effect, alpha, alternative = float(document["effect"]), float(document["alpha"]), document["alternative"]
    needed = method.trials_needed(effect, USUAL_POWER, alpha, alternative, setups)
    return next(number for number in range(-(-needed // listeners), 2 * needed + 1) if method.fits(number, setups))


def usual_trials(method: Method, numbers: Numbers, listeners: int, setups: int, passages: int) -> int:
    """Trials for each listener where nobody says another number: as many as can find something at all.

    That is the method's own usual number and, where all listeners' together are too few for alpha, the first that are
    enough and play every passage equally often; `numbers` hold no trials yet.
    """
    usual = method.usual_trials(setups, passages)
    alternative = method.alternative(one_sided=numbers.one_sided)
    planned = method.planned(usual * listeners, float(numbers.effect), float(numbers.alpha), alternative, setups)
    least = -(-planned.least_trials // listeners)
    if usual >= least:
        return usual
    whole = (number for number in count(least) if number % passages == 0)
    return next(number for number in whole if method.fits(number, setups))


def _least(method: Method, document: Mapping[str, Any]) -> int:
    """The fewest trials, of all listeners together, with which alpha is within reach."""
    trials, setups = document["trials"] * len(document["listeners"]), len(document["setups"])
    effect, alpha = float(document["effect"]), float(document["alpha"])
    return method.planned(trials, effect, alpha, document["alternative"], setups).least_trials


def known_warnings(method: Method, document: Mapping[str, Any]) -> list[str]:
    """What is to be said of a draft with too few known differences to tell hearing them from guessing."""
    from stats import binomial

    if "known" not in document:
        return []
    chance, trials = method.chance_of_finding, document["known"]["trials"] * len(document["listeners"])
    if binomial.critical(trials, KNOWN_ALPHA, chance, "greater") is not None:
        return []
    least = next(n for n in count(trials) if binomial.critical(n, KNOWN_ALPHA, chance, "greater") is not None)
    listeners = len(document["listeners"])
    together, each = (", of all listeners together,", " for each") if listeners > 1 else ("", "")
    return [
        f"{trials} trials of a known difference{together} are too few to tell from guessing, even if all are heard; "
        f"plan at least {ceil(least / listeners)}{each}."
    ]


def lift_warnings(document: Mapping[str, Any]) -> list[str]:
    """What is to be said of a plan whose lift changes so little of its music that nobody could be expected to hear it.

    Not hearing it would say nothing of the listener then.
    """
    stated = document.get("known", {}).get("change_db")
    if stated is None or float(stated) >= FAINTEST_CHANGE_DB:
        return []
    return [
        f"The music holds next to nothing that the lift could raise: on the passage where it does least, what it "
        f"changes lies {-float(stated):.1f} dB below the music (A-weighted). Below {-FAINTEST_CHANGE_DB:g} dB nobody "
        "can be expected to hear it (our limit: even loud music leaves that in a quiet room's noise); lift an octave "
        "that the music fills, or by more."
    ]


def boundaries_of(method: CountedMethod, numbers: Numbers, alternative: Alternative) -> Boundaries:
    """The boundaries of a sequential rule."""
    from stats.sequential.e_process import e_process
    from stats.sequential.sprt import sprt

    alpha = float(numbers.alpha)
    if numbers.rule == SPRT:
        return sprt(numbers.trials, float(numbers.effect), alpha, float(numbers.beta), method.chance, alternative)
    return e_process(numbers.trials, alpha, method.chance, alternative)


def behaviour(boundaries: Boundaries, method: CountedMethod, effect: str) -> SequentialBehaviour:
    """What a sequential rule does, exactly."""
    from stats.sequential import operating_characteristics

    guessing, hearing = (
        operating_characteristics.characteristics(boundaries, share) for share in (method.chance, float(effect))
    )
    return SequentialBehaviour(
        alpha_real=f"{guessing.heard:.4f}",
        power=f"{hearing.heard:.4f}",
        expected_trials_guessing=f"{guessing.expected_trials:.1f}",
        expected_trials_effect=f"{hearing.expected_trials:.1f}",
        median_trials_effect=str(hearing.median_trials),
    )


def _sequential(method: CountedMethod, numbers: Numbers, alternative: Alternative) -> dict[str, Any]:
    boundaries = boundaries_of(method, numbers, alternative)
    does = behaviour(boundaries, method, numbers.effect)
    sequential = {"rule": numbers.rule, "boundaries": boundaries.to_document(), **does.__dict__}
    if numbers.rule == SPRT:
        sequential["beta"] = numbers.beta
    return {"sequential": sequential, "power": does.power}
