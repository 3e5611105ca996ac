"""`tally` and `power`: the statistics alone, for counts kept elsewhere and for planning."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from stats.errors import StatsError
from stats.validation import Alternative

from ..plans import planned_test
from ..plans.methods import METHODS
from . import answer_tables
from .context import decimals, give, json_option, say

COUNTED = tuple(name for name, method in METHODS.items() if method.family == "count")
FILES = {
    "hidden-reference": ("listener", "reference", "object"),
    "multi-stimulus": ("listener", "item", "stimulus", "grade"),
    "round-robin": ("listener", "first", "second", "chosen"),
}


@click.command()
@click.argument("method", type=click.Choice(tuple(METHODS)))
@click.option("--correct", type=int, help="How many were right.")
@click.option("--for-first", type=int, help="How many preferred the first (preference).")
@click.option("--trials", type=int, help="How many trials.")
@click.option("--ties", type=int, default=0, help="How many had no preference (preference); they are within --trials.")
@click.option("--ties-policy", type=click.Choice(("drop", "split")), default="drop", show_default=True)
@click.option("--one-sided", is_flag=True, help="The first was foreseen to be preferred (preference).")
@click.option("--hits", type=int, help='"Different" said in different trials (same-different).')
@click.option("--different", type=int, help="How many trials were different (same-different).")
@click.option("--false-alarms", type=int, help='"Different" said in same trials (same-different).')
@click.option("--same", type=int, help="How many trials were the same (same-different).")
@click.option(
    "--file",
    "path",
    type=click.Path(path_type=Path),
    help="A table instead: listener,correct,trials of a panel; or what the method's answers are, see the README.",
)
@click.option("--reference", default="reference", show_default=True, help="Its name in the table (multi-stimulus).")
@click.option("--mid-anchor", default="anchor 7 kHz", show_default=True, help="Its name in the table (multi-stimulus).")
@click.option("--alpha", type=float, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
def tally(method: str, as_json: bool, **given: Any) -> None:
    """Exact statistics for counts kept elsewhere."""
    document = _tallied(method, **given)
    if as_json:
        give(document)
    elif "verdict" in document and "interval" in document:
        tell(document)
    else:
        answer_tables.tell(document)


def _tallied(method: str, path: Path | None, alpha: float, **given: Any) -> dict[str, Any]:
    if method in FILES:
        if path is None:
            raise StatsError(f"{method} takes --file TABLE with the columns {', '.join(FILES[method])}")
        rows = answer_tables.read(path, FILES[method])
        if method == "multi-stimulus":
            return answer_tables.multi_stimulus(rows, path, given["reference"], given["mid_anchor"], alpha)
        return (answer_tables.hidden_reference if method == "hidden-reference" else answer_tables.round_robin)(
            rows, path, alpha
        )
    if path is not None:
        return answer_tables.panel(method, answer_tables.read(path, ("listener", "correct", "trials")), path, alpha)
    if method == "same-different" and given["hits"] is not None:
        return _same_different(alpha, **given)
    return _counted(method, alpha, **given)


def _counted(
    method: str, alpha: float, correct: int | None, for_first: int | None, trials: int | None, **given: Any
) -> dict[str, Any]:
    from stats import count_summary, preference

    asks = method == "preference"
    wanted, count, option = ("--for-first", for_first, "--correct") if asks else ("--correct", correct, "--for-first")
    other = correct if asks else for_first
    if count is None or other is not None or trials is None:
        raise StatsError(f"{method} takes {wanted} K (not {option}) and --trials N")
    if (given["ties"] or given["one_sided"]) and not asks:
        raise StatsError(f"{method} knows no ties and has its own side; --ties and --one-sided are for a preference")
    if given["ties"]:
        left = trials - given["ties"] - count
        if left < 0:
            raise StatsError(f"{count} for the first and {given['ties']} ties are more than {trials} trials")
        resolved = preference.preference_test(count, left, given["ties"], given["ties_policy"])
        count, trials = resolved.for_first, resolved.trials
    side: Alternative | None = "greater" if given["one_sided"] else None
    document = count_summary.summarise(method, count, trials, alpha=alpha, alternative=side).to_document()
    if given["ties"]:
        document |= {"ties": given["ties"], "ties_policy": given["ties_policy"]}
    return document


def _same_different(
    alpha: float,
    hits: int | None,
    different: int | None,
    false_alarms: int | None,
    same: int | None,
    **_: Any,
) -> dict[str, Any]:
    from stats import count_summary
    from stats.same_different import same_different

    if hits is None or different is None or false_alarms is None or same is None:
        raise StatsError("same-different takes --hits, --different, --false-alarms and --same together")
    cells = same_different(hits, different, false_alarms, same)
    document = count_summary.summarise("same-different", cells.correct, different + same, alpha=alpha).to_document()
    return document | {"same_different": cells.to_document()}


def tell(document: dict[str, Any]) -> None:
    """A tally in words; of a panel each listener as well."""
    interval = document["interval"]
    counted = "for the first" if document["method"] == "preference" else "right"
    say(f"{document['correct']} of {document['trials']} {counted}: {document['verdict']}.")
    critical = "no count could show it" if document["critical"] is None else f"needed {document['critical']}"
    say(f"  p = {document['p_value']:.4g} (alpha {document['alpha']:g}: {critical}), chance {document['chance']:g}")
    say(
        f"  proportion {document['proportion']:.3f}, {100 * interval['level']:g} % interval "
        f"{interval['low']:.3f} to {interval['high']:.3f} ({interval['kind']}), d' {decimals(document['d_prime'], 2)}"
    )
    for own in document.get("listeners", []):
        counted = f"{own['name']}: {own['correct']} of {own['trials']}"
        say(f"  {counted}, p = {own['p_value']:.4g}, Holm {own['p_adjusted']:.4g}")
    if "hear_it" in document:
        found = document["hear_it"]
        say(
            f"  of {found['of']} listeners at least {found['at_least']} hear it; at most "
            f"{found['at_most_half_the_time']} in half of the trials or more"
        )
    cells = document.get("same_different")
    if cells:
        say(
            f"  hit rate {cells['hit_rate']:.3f}, false alarm rate {cells['false_alarm_rate']:.3f}; d' "
            f"{cells['d_prime']:.2f} (differencing {cells['d_prime_differencing']:.2f}), bias {cells['bias']:+.2f}"
        )


@click.command()
@click.argument("method", type=click.Choice(tuple(METHODS)))
@click.option("--trials", type=int, help="How many trials; without it, what the wanted power needs.")
@click.option("--proportion", type=float, help="The proportion right (or preferring one) to be found.")
@click.option("--d-prime", type=float, help="The same as a sensitivity.")
@click.option("--effect", type=float, help="The mean difference to be found, in standard deviations (graded methods).")
@click.option("--setups", type=int, default=3, show_default=True, help="How many setups (round-robin).")
@click.option("--one-sided", is_flag=True, help="The first is foreseen to be preferred (preference).")
@click.option("--stopping", type=click.Choice(planned_test.RULES), default=planned_test.FIXED, show_default=True)
@click.option("--beta", type=float, default=0.1, show_default=True, help="With --stopping sprt: the risk of a miss.")
@click.option("--power", "wanted", type=float, default=0.8, show_default=True, help="The power wanted.")
@click.option("--alpha", type=float, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
def power(method: str, as_json: bool, **given: Any) -> None:
    """Trials needed, or power reached, exactly; with the saw-tooth that counting makes."""
    if method not in COUNTED:
        _power_otherwise(method, as_json, **given)
    elif given["stopping"] != planned_test.FIXED:
        _power_sequential(method, as_json, **given)
    else:
        _power_counted(method, as_json, **given)


def _power_counted(
    method: str,
    as_json: bool,
    trials: int | None,
    proportion: float | None,
    d_prime: float | None,
    wanted: float,
    alpha: float,
    one_sided: bool,
    **_: Any,
) -> None:
    from stats import binomial_power as planning

    statement = planning.state(
        method,
        trials=trials,
        proportion=proportion,
        d_prime=d_prime,
        wanted=wanted,
        alpha=alpha,
        alternative="greater" if one_sided else None,
    )
    document = statement.to_document()
    if as_json:
        give(document)
        return
    critical = "no count reaches alpha" if document["critical"] is None else f"{document['critical']} needed"
    say(
        f"{document['trials']} trials: {critical}, real alpha {document['alpha_actual']:.4f}, "
        f"power {document['power']:.4f}."
    )
    say(
        f"Power {wanted:g} is first reached with {document['trials_first']} trials, and holds from "
        f"{document['trials_stable']} on (between the two it comes and goes, because counts are whole)."
    )


def _power_sequential(method: str, as_json: bool, trials: int | None, **given: Any) -> None:
    from stats import d_prime
    from stats.counted_methods import with_direction

    if trials is None:
        raise StatsError("a sequential rule needs its greatest number of trials; add --trials N")
    chosen = with_direction(method, "greater" if given["one_sided"] else None)
    effect = given["proportion"]
    if given["d_prime"] is not None:
        effect = d_prime.proportion_correct(given["d_prime"], chosen.d_prime_method)
    numbers = planned_test.Numbers(
        trials,
        str(given["alpha"]),
        str(effect or float(chosen.usual_effect)),
        str(given["beta"]),
        given["stopping"],
        one_sided=given["one_sided"],
    )
    planned_test.check_numbers(METHODS[method], numbers, 1)
    region = planned_test.region_of(numbers, method, chosen.alternative)
    told = planned_test.characteristics(region, method, numbers.effect)
    document = {"method": method, "stopping": given["stopping"], "trials": trials, "proportion": float(numbers.effect)}
    document |= {name: float(value) for name, value in told.items()}
    if as_json:
        give(document)
        return
    say(f"At most {trials} trials ({given['stopping']}): real alpha {told['alpha_real']}, power {told['power']}.")
    say(
        f"On average {told['expected_trials_guessing']} trials when guessing, {told['expected_trials_effect']} at a "
        f"proportion of {float(numbers.effect):g} (half of the time {told['median_trials_effect']} or fewer)."
    )


def _power_otherwise(method: str, as_json: bool, trials: int | None, wanted: float, alpha: float, **given: Any) -> None:
    if given["stopping"] != planned_test.FIXED:
        raise StatsError(f"{method} runs to its end; a sequential rule is for methods whose answers are counted")
    document: dict[str, Any] = {"method": method, "alpha": alpha}
    if method == "round-robin":
        document |= _round_robin_power(trials, alpha, given["setups"], given["proportion"])
    else:
        from stats import hidden_reference, multi_stimulus

        module = hidden_reference if method == "hidden-reference" else multi_stimulus
        effect = 0.8 if given["effect"] is None else given["effect"]
        if not effect > 0:
            raise StatsError(f"--effect is above 0, in standard deviations; got {effect:g}")
        needed = module.sample_size(effect, wanted, alpha)
        document |= {
            "effect": effect,
            "trials": needed if trials is None else trials,
            "power": module.power(needed if trials is None else trials, effect, alpha),
            "trials_first": needed,
        }
    if as_json:
        give(document)
        return
    say(f"{document['trials']} trials: power {document['power']:.4f} (alpha {alpha:g}).")
    if "trials_first" in document:
        say(f"Power {wanted:g} needs {document['trials_first']} trials, of all listeners together.")


def _round_robin_power(trials: int | None, alpha: float, setups: int, proportion: float | None) -> dict[str, Any]:
    from numpy.random import PCG64, Generator

    from stats import round_robin

    pairs = setups * (setups - 1) // 2
    number = 8 * pairs if trials is None else trials
    if setups < 3 or number < pairs or number % pairs:
        raise StatsError(
            f"a round robin has 3 setups or more, and a multiple of their pairs as trials; got {setups} setups and "
            f"{number} trials"
        )
    share = 0.75 if proportion is None else proportion
    rng = Generator(PCG64(planned_test.SIMULATED_SEED))
    reached = round_robin.power(setups, number // pairs, share, alpha, rng)
    return {"setups": setups, "proportion": share, "trials": number, "power": reached}


COMMANDS = {"tally": tally, "power": power}
