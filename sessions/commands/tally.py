"""`tally`: the statistics of a plan, for counts and grades kept elsewhere (paper, a viewers' poll)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from stats.errors import StatsError
from stats.validation import Alternative

from ..plans.methods.counted import CountedMethod
from . import answer_tables, tallied_tables
from .context import decimals, give, json_option, say
from .number_types import NUMBER, WHOLE

OF_COUNTS = (
    "correct", "for_first", "trials", "ties", "ties_policy", "one_sided", "hits", "different", "false_alarms", "same",
)  # fmt: skip


@click.command()
@click.argument("method", type=click.Choice(tuple(tallied_tables.METHODS)))
@click.option("--correct", type=WHOLE, help="How many were right.")
@click.option("--for-first", type=WHOLE, help="How many preferred the first (preference).")
@click.option("--trials", type=WHOLE, help="How many trials.")
@click.option(
    "--ties", type=WHOLE, default=0, help="How many had no preference (preference); they are within --trials."
)
@click.option(
    "--ties-policy",
    type=click.Choice(("drop", "split")),
    default="drop",
    show_default=True,
    help="Left out, or half for each (an odd one goes where it helps least).",
)
@click.option("--one-sided", is_flag=True, help="The first was foreseen to be preferred (preference).")
@click.option("--hits", type=WHOLE, help='"Different" said in different trials (same-different).')
@click.option("--different", type=WHOLE, help="How many trials were different (same-different).")
@click.option("--false-alarms", type=WHOLE, help='"Different" said in same trials (same-different).')
@click.option("--same", type=WHOLE, help="How many trials were the same (same-different).")
@click.option(
    "--file",
    "path",
    type=click.Path(path_type=Path),
    help="A table instead: listener,correct,trials of a panel; or what the method's answers are, see the README.",
)
@click.option("--reference", default="reference", show_default=True, help="Its name in the table (multi-stimulus).")
@click.option(
    "--mid-anchor", default=tallied_tables.MID_ANCHOR, show_default=True, help="Its name in the table (multi-stimulus)."
)
@click.option(
    "--anchor",
    "anchors",
    multiple=True,
    metavar="NAME",
    help="A further anchor in the table (multi-stimulus; repeat): like the mid anchor no setup, so not compared. "
    f"[default: {tallied_tables.LOW_ANCHOR}, where there is one]",
)
@click.option("--alpha", type=NUMBER, default=0.05, show_default=True, help="The error rate accepted.")
@json_option
@click.pass_context
def tally(ctx: click.Context, /, method: str, as_json: bool, path: Path | None, **given: Any) -> None:
    """Exact statistics for counts kept elsewhere."""
    chosen = tallied_tables.METHODS[method]
    if path is not None:
        _check_file_alone(ctx)
    if isinstance(chosen, CountedMethod):
        document = _panel(chosen, path, **given) if path is not None else _counts(chosen, **given)
        sentences = _in_words(chosen, document)
    else:
        document, sentences = tallied_tables.tallied(chosen, path, **given)
    if as_json:
        give(document)
        return
    for sentence in sentences:
        say(sentence)


def _check_file_alone(ctx: click.Context) -> None:
    """Nothing, if no count was given beside a table: the table would be read and the count be ignored."""
    for option in ctx.command.params:
        stated = option.name is not None and ctx.get_parameter_source(option.name) is ParameterSource.COMMANDLINE
        if stated and option.name in OF_COUNTS:
            raise StatsError(f"{option.opts[0]} does not go with --file, whose table says it; leave one of them out")


def _counts(method: CountedMethod, hits: int | None, **given: Any) -> dict[str, Any]:
    if method.asks_whether_same and hits is not None:
        return _same_different(method, hits, **given)
    return _one_count(method, **given)


def _one_count(
    method: CountedMethod,
    alpha: float,
    correct: int | None,
    for_first: int | None,
    trials: int | None,
    ties: int,
    ties_policy: str,
    one_sided: bool,
    **_: Any,
) -> dict[str, Any]:
    from stats import count_summary, preference

    asks = method.asks_preference
    wanted, count, option = ("--for-first", for_first, "--correct") if asks else ("--correct", correct, "--for-first")
    other = correct if asks else for_first
    if count is None or other is not None or trials is None:
        raise StatsError(f"{method.name} takes {wanted} K (not {option}) and --trials N")
    if (ties or one_sided) and not asks:
        raise StatsError(
            f"{method.name} knows no ties and has its own side; --ties and --one-sided are for a preference"
        )
    if ties:
        left = trials - ties - count
        if left < 0:
            raise StatsError(f"{count} for the first and {ties} ties are more than {trials} trials")
        tested = preference.with_ties(count, left, ties, ties_policy, "greater" if one_sided else "two-sided")
        if not tested.trials:
            raise StatsError("every answer was a tie; there is nothing to test")
        count, trials = tested.for_first, tested.trials
    side: Alternative | None = "greater" if one_sided else None
    document = count_summary.summarise(method.name, count, trials, alpha=alpha, alternative=side).to_document()
    return document | {"ties": ties, "ties_policy": ties_policy} if ties else document


def _same_different(
    method: CountedMethod,
    hits: int,
    different: int | None,
    false_alarms: int | None,
    same: int | None,
    alpha: float,
    **_: Any,
) -> dict[str, Any]:
    from stats import count_summary
    from stats.same_different import same_different

    if different is None or false_alarms is None or same is None:
        raise StatsError("same-different takes --hits, --different, --false-alarms and --same together")
    cells = same_different(hits, different, false_alarms, same)
    summary = count_summary.summarise(method.name, cells.correct, different + same, alpha=alpha)
    return summary.to_document() | {"same_different": cells.to_document()}


def _panel(method: CountedMethod, path: Path, alpha: float, **_: Any) -> dict[str, Any]:
    """Several listeners' counts: each by themselves, pooled, and how many of them can hear it."""
    from stats import count_summary, panel

    from ..results.supplementary import panel_reading

    counts, numbers = answer_tables.panel(path), method.numbers()
    pooled = panel.panel(counts, numbers.chance, alpha, numbers.alternative)
    summary = count_summary.summarise(method.name, pooled.correct, pooled.trials, alpha)
    reading = panel_reading(counts, method.chance, pooled, preference=method.asks_preference)
    return reading.to_document() | summary.to_document()


def _in_words(method: CountedMethod, document: dict[str, Any]) -> list[str]:
    """A tally in words; of a panel each listener as well."""
    interval = document["interval"]
    counted = "for the first" if method.asks_preference else "right"
    critical = "no count could show it" if document["critical"] is None else f"needed {document['critical']}"
    sentences = [
        f"{document['correct']} of {document['trials']} {counted}: {document['verdict']}.",
        f"  p = {document['p_value']:.4g} (alpha {document['alpha']:g}: {critical}), chance {document['chance']:g}",
        f"  proportion {document['proportion']:.3f}, {100 * interval['level']:g} % interval {interval['low']:.3f} to "
        f"{interval['high']:.3f} ({interval['kind']}), d' {decimals(document['d_prime'], 2)}",
    ]
    sentences += [
        f"  {own['name']}: {own['correct']} of {own['trials']}, p = {own['p_value']:.4g}, Holm {own['p_adjusted']:.4g}"
        for own in document.get("listeners", [])
    ]
    if "hear_it" in document:
        found = document["hear_it"]
        sentences.append(
            f"  of {found['of']} listeners at least {found['at_least']} hear it; at most "
            f"{found['at_most_half_the_time']} in half of the trials or more"
        )
    cells = document.get("same_different")
    if cells:
        sentences.append(
            f"  hit rate {cells['hit_rate']:.3f}, false alarm rate {cells['false_alarm_rate']:.3f}; d' "
            f"{cells['d_prime']:.2f} (differencing {cells['d_prime_differencing']:.2f}), bias {cells['bias']:+.2f}"
        )
    return sentences


COMMANDS = {"tally": tally}
