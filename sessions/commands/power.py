"""`power`: the trials needed, or the power reached, by each method's planned test: exact, simulated, or near."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import click

from stats.errors import StatsError

from ..plans import ballot_words, planned_test
from ..plans.methods import plain_terms
from ..plans.methods.counted import CountedMethod
from ..plans.methods.method import Method, Planned
from ..plans.methods.table import METHODS
from ..plans.methods.word_ballot import REVERSE_RATE, WordBallot
from ..results.how_answered import chance_of_finding
from .context import give, json_option, say
from .number_types import NUMBER, WHOLE

USUAL_SETUPS = 3


@click.command()
@click.argument("method", type=click.Choice(tuple(METHODS)))
@click.option("--trials", type=WHOLE, help="How many trials; without it, what the wanted power needs.")
@click.option("--proportion", type=NUMBER, help="The proportion right (or preferring one) to be found.")
@click.option("--d-prime", type=NUMBER, help="The same as a sensitivity.")
@click.option("--effect", type=NUMBER, help="The mean difference to be found, in standard deviations (graded methods).")
@click.option(
    "--setups", type=WHOLE, help="How many setups (multi-stimulus, round-robin: usually 3; words: usually 2)."
)
@click.option("--words", type=WHOLE, help="How many words are on the list (words); usually 10.")
@click.option("--rated", is_flag=True, help="Words are rated instead of ticked (words).")
@click.option("--one-sided", is_flag=True, help="The first is foreseen to be preferred (preference).")
@click.option("--stopping", type=click.Choice(planned_test.RULES), default=planned_test.FIXED, show_default=True)
@click.option("--beta", type=NUMBER, default=0.1, show_default=True, help="With --stopping sprt: the risk of a miss.")
@click.option("--power", "wanted", type=NUMBER, default=0.8, show_default=True, help="The power wanted.")
@click.option("--alpha", type=NUMBER, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
def power(method: str, rated: bool, as_json: bool, **given: Any) -> None:
    """Trials needed, or power reached, by the planned test itself: exactly where answers are counted.

    Counting makes a saw-tooth, which is told. For grades and ratings, and for words of three setups and more, answers
    are simulated; the number then comes with its standard error, and with what is taken for granted of the answers.
    """
    chosen = METHODS[method].asked(rated=rated)
    if not isinstance(chosen, CountedMethod):
        if given["stopping"] != planned_test.FIXED:
            raise StatsError(f"{method} runs to its end; a sequential rule is for methods whose answers are counted")
        document, sentences = _estimated(chosen, **given)
        document = {"method": method, "alpha": given["alpha"], **document}
    elif given["stopping"] != planned_test.FIXED:
        document, sentences = _sequential(chosen, **given)
    else:
        document, sentences = _fixed(chosen, **given)
    if as_json:
        give(document)
        return
    for sentence in sentences:
        say(sentence)


Said = tuple[dict[str, Any], list[str]]
"""The document for programs, and its sentences for people."""


def _fixed(
    method: CountedMethod,
    trials: int | None,
    proportion: float | None,
    d_prime: float | None,
    wanted: float,
    alpha: float,
    one_sided: bool,
    **_: Any,
) -> Said:
    from stats import binomial_power

    statement = binomial_power.state(
        method.name,
        trials=trials,
        proportion=proportion,
        d_prime=d_prime,
        wanted=wanted,
        alpha=alpha,
        alternative="greater" if one_sided else None,
    )
    reached, needed = statement.reached, statement.needed
    critical = "no count reaches alpha" if reached.critical is None else f"{reached.critical} needed"
    return statement.to_document(), [
        f"{reached.trials} trials: {critical}, real alpha {reached.alpha_actual:.4f}, power "
        f"{chance_of_finding(reached.power, 4)}.",
        f"Power {wanted:g} is first reached with {needed.trials_first} trials, and holds from {needed.trials_stable} "
        "on (between the two it comes and goes, because counts are whole).",
    ]


def _sequential(
    method: CountedMethod,
    trials: int | None,
    proportion: float | None,
    d_prime: float | None,
    alpha: float,
    beta: float,
    stopping: str,
    one_sided: bool,
    **_: Any,
) -> Said:
    from stats.d_prime import proportion_correct

    if trials is None:
        raise StatsError("a sequential rule needs its greatest number of trials; add --trials N")
    chosen = method.numbers("greater" if one_sided else None)
    if d_prime is not None:
        proportion = proportion_correct(d_prime, chosen.d_prime_method)
    effect = proportion or float(chosen.usual_effect)
    numbers = planned_test.Numbers(trials, str(alpha), str(effect), str(beta), stopping, one_sided=one_sided)
    planned_test.check_numbers(method, numbers, 1)
    boundaries = planned_test.boundaries_of(method, numbers, chosen.alternative)
    does = planned_test.behaviour(boundaries, method, numbers.effect)
    document = {
        "method": method.name,
        "stopping": stopping,
        "trials": trials,
        "proportion": effect,
        "alpha_real": float(does.alpha_real),
        "power": float(does.power),
        "expected_trials_guessing": float(does.expected_trials_guessing),
        "expected_trials_effect": float(does.expected_trials_effect),
        "median_trials_effect": float(does.median_trials_effect),
    }
    return document, [
        f"At most {trials} trials ({stopping}): real alpha {does.alpha_real}, power "
        f"{chance_of_finding(float(does.power), 4)}.",
        f"On average {does.expected_trials_guessing} trials when guessing, {does.expected_trials_effect} at a "
        f"proportion of {effect:g} (half of the time {does.median_trials_effect} or fewer).",
    ]


def _estimated(
    method: Method,
    trials: int | None,
    proportion: float | None,
    effect: float | None,
    wanted: float,
    alpha: float,
    setups: int | None,
    words: int | None,
    **_: Any,
) -> Said:
    """Grades, and pairs of many setups: the power of the test itself, and the trials needed of all listeners."""
    if words is not None:
        method = _with_words(method, words)
    if isinstance(method, WordBallot) and setups is not None:
        _check_setups(method, setups)
        method = method.with_labels(setups, ties=False)
    name, given = ("effect", effect) if method.effect_in_sd else ("proportion", proportion)
    size = float(method.usual_effect) if given is None else given
    method.check_effect(f"{size:g}" if method.effect_in_sd else str(size))
    usual = USUAL_SETUPS if method.setups[1] > 2 and not method.asks_words else 2
    number = max(method.setups[0], usual) if setups is None else setups
    _check_setups(method, number)
    if trials is not None:
        method.check_trials(trials, number)
    alternative = method.alternative(one_sided=False)
    needed = method.trials_needed(size, wanted, alpha, alternative, number)
    asked = needed if trials is None else trials
    reached = method.planned(asked, size, alpha, alternative, number)
    document = {
        "setups": number,
        name: size,
        "trials": asked,
        "power": reached.power,
        "power_by": reached.power_by,
        "power_error": reached.power_error,
        "least_trials": reached.least_trials,
        "trials_first": needed,
    }
    if method.power_assumes and reached.power_error is not None:
        document["power_assumes"] = method.power_assumes
    of = ""
    if isinstance(method, WordBallot):
        document["words"] = method.how_many
        if not method.effect_in_sd:
            document["reverse_proportion"] = min(REVERSE_RATE, 1 - size)
    if method.power_of:
        document["power_of"] = method.power_of
        of = f", {plain_terms.power_of_told(method.power_of)},"
    sentences = [f"{asked} trials: power {_power_in_words(reached)}{of[:-1]} (alpha {alpha:g})."]
    if asked < reached.least_trials:
        sentences = [
            f"{asked} trials CANNOT reach alpha {alpha:g}, whatever is answered: that begins with "
            f"{reached.least_trials} trials."
        ]
    about = "" if method.planned(needed, size, alpha, alternative, number).power_by == "exact" else "about "
    if isinstance(method, WordBallot):
        enough = f"Power {wanted:g} (found in {100 * wanted:g} of 100 such plans) needs {about}{needed} trials"
        document["controls"] = method.least_controls(asked)
        return document, _of_words(
            method, document | {"alpha": alpha}, _power_in_words(reached), enough, told=trials is not None
        )
    among = f" of {number} setups" if method.setups[1] > 2 else ""
    sentences.append(f"Power {wanted:g}{of} needs {about}{needed} trials{among}, of all listeners together.")
    if "power_assumes" in document:
        sentences.append(f"Simulated: {method.power_assumes}.")
    return document, sentences


def _of_words(method: WordBallot, found: Mapping[str, Any], power: str, enough: str, *, told: bool) -> list[str]:
    """What a power of a ballot is for, once, then what it takes, and what comes on top; `told`: trials were given."""
    size = f"{found['effect' if method.effect_in_sd else 'proportion']:g}"
    asked, setups, words, alpha = found["trials"], found["setups"], method.how_many, found["alpha"]
    lines = [
        f"What is to be found, of {setups} setups: {method.effect_in_words(size)}. The word is one of {words} on the "
        f"list, and the more there are, the stricter it is for each: alpha {alpha:g} divided by {words} (Holm)."
    ]
    if asked < found["least_trials"]:
        least = found["least_trials"]
        lines.append(
            f"{asked} trials CANNOT reach alpha {alpha:g}, whatever is answered: that begins with {least} trials."
        )
    elif told:
        lines.append(f"{asked} trials: power {power}.")
    lines.append(f"{enough}, of all listeners together{'' if told else f'; then it is {power}'}.")
    if "power_assumes" in found:
        lines.append(f"Simulated: {found['power_assumes']}.")
    same = "both are" if setups == 2 else "all are"
    lines.append(
        f"On top of {asked} trials come at least {found['controls']} controls, in which {same} the same setup: they "
        "show how often a word changes where nothing did."
    )
    return lines


def _with_words(method: Method, words: int) -> Method:
    if not isinstance(method, WordBallot):
        raise StatsError(f"{method.name} asks for no words; leave --words out")
    if not ballot_words.LEAST <= words <= ballot_words.MOST:
        raise StatsError(f"a ballot has {ballot_words.LEAST} to {ballot_words.MOST} words; got --words {words}")
    return replace(method, how_many=words)


def _check_setups(method: Method, number: int) -> None:
    least, most = method.setups
    if not least <= number <= most:
        raise StatsError(f"{method.name} compares {least} to {most} setups; got --setups {number}")


def _power_in_words(reached: Planned) -> str:
    if reached.power_error is not None:
        return f"{reached.power:.3f} ± {reached.power_error:.3f} (simulated with a fixed seed; one standard error)"
    return f"{chance_of_finding(reached.power, 4)}, {'exactly' if reached.power_by == 'exact' else 'approximately'}"


COMMANDS = {"power": power}
