"""`tally` and `power`: the statistics alone, for counts kept elsewhere and for planning."""

from __future__ import annotations

from typing import Any

import click

from stats.errors import StatsError

from .context import decimals, give, json_option, say

METHODS = ("abx", "preference")


@click.command()
@click.argument("method", type=click.Choice(METHODS))
@click.option("--correct", type=int, help="How many were right (abx).")
@click.option("--for-first", type=int, help="How many preferred the first (preference).")
@click.option("--trials", type=int, required=True, help="How many trials.")
@click.option("--alpha", type=float, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
def tally(method: str, correct: int | None, for_first: int | None, trials: int, alpha: float, as_json: bool) -> None:
    """Exact statistics for counts kept elsewhere."""
    from stats import tally as counting

    wanted, given, option = (
        ("--correct", correct, "--for-first") if method == "abx" else ("--for-first", for_first, "--correct")
    )
    other = for_first if method == "abx" else correct
    if given is None or other is not None:
        raise StatsError(f"{method} takes {wanted} K (not {option})")
    result = counting.tally(method, given, trials, alpha=alpha)
    document = result.to_document()
    if as_json:
        give(document)
        return
    tell(document)


def tell(document: dict[str, Any]) -> None:
    """A tally in words."""
    interval = document["interval"]
    counted = "right" if document["method"] == "abx" else "for the first"
    say(f"{document['correct']} of {document['trials']} {counted}: {document['verdict']}.")
    critical = "no count could show it" if document["critical"] is None else f"needed {document['critical']}"
    say(f"  p = {document['p_value']:.4g} (alpha {document['alpha']:g}: {critical}), chance {document['chance']:g}")
    say(
        f"  proportion {document['proportion']:.3f}, {100 * interval['level']:g} % interval "
        f"{interval['low']:.3f} to {interval['high']:.3f} ({interval['kind']}), d' {decimals(document['d_prime'], 2)}"
    )


@click.command()
@click.argument("method", type=click.Choice(METHODS))
@click.option("--trials", type=int, help="How many trials; without it, what the wanted power needs.")
@click.option("--proportion", type=float, help="The proportion right (or preferring one) to be found.")
@click.option("--d-prime", type=float, help="The same as a sensitivity.")
@click.option("--power", "wanted", type=float, default=0.8, show_default=True, help="The power wanted.")
@click.option("--alpha", type=float, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
def power(
    method: str,
    trials: int | None,
    proportion: float | None,
    d_prime: float | None,
    wanted: float,
    alpha: float,
    as_json: bool,
) -> None:
    """Trials needed, or power reached, exactly; with the saw-tooth that counting makes."""
    from stats import power as planning

    statement = planning.state(
        method, trials=trials, proportion=proportion, d_prime=d_prime, wanted=wanted, alpha=alpha
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


COMMANDS = {"tally": tally, "power": power}
