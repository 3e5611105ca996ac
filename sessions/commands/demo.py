"""`demo`: the whole job on the demo tracks, with simulated listeners, in a fresh casebook, ending in a report."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from .. import demonstration
from ..results import sentences
from . import words_learn
from .context import Context, give, json_option, progress, say

if TYPE_CHECKING:
    from .words_learn import Gathered


@click.command()
@click.option("--dir", "folder", type=click.Path(path_type=Path), default=Path("earwitness-demo"), show_default=True)
@json_option
@click.pass_obj
def demo(context: Context, folder: Path, as_json: bool) -> None:
    """Play the whole job through: render, match, check, seal, rehearse comparisons and a ballot, judge, report."""
    from ..casebook.store import create
    from ..report import contents, page

    say(
        "Three comparisons of imaginary loudspeakers and a ballot of words, answered by simulated listeners. Nothing "
        "is played aloud.",
        as_json,
    )
    demonstration.check_free(folder)
    with create(folder) as casebook:
        for step in demonstration.steps(casebook):
            progress(step)
        shown = demonstration.result(casebook)
        dictionary = words_learn.gathered(casebook, demonstration.REVIEWER)
        report = folder / "report.html"
        page.write(contents.gather(casebook, "What was heard: the demo"), report)
    _say_result(shown, as_json)
    _say_words(shown, dictionary, as_json)
    hint = f"earwitness --casebook {quote(str(folder))}"
    say(f"\nThe report: {report}", as_json)
    say("What to type next:", as_json)
    say(f"  {hint} listen {demonstration.COMPARISONS[0].plan} --listener {demonstration.GUEST}", as_json)
    say("      take the first test yourself (needs a sound device)", as_json)
    say(f"  {hint} crosscheck {' '.join(demonstration.BALLOT.setups)} --out words.png", as_json)
    say("      the words logged, beside the measured difference, as a picture", as_json)
    say(f"  {hint} verify", as_json)
    say("      recompute every hash and key of this casebook", as_json)
    say("  earwitness compare DIR_A DIR_B", as_json)
    say("      your own recordings, from two folders to a blind trial", as_json)
    if as_json:
        give({"casebook": str(folder), "report": str(report)} | shown.to_document() | _dictionary(dictionary))


def _say_result(shown: demonstration.DemoResult, as_json: bool) -> None:
    say(
        f"{shown.passages} passages, 4 renderings each; levels matched to {shown.residual_lu:.3f} LU "
        f"(tolerance {shown.tolerance_lu:g} LU); giveaways found: {shown.giveaways}.",
        as_json,
    )
    for comparison, seal, verdict in zip(demonstration.PLANS, shown.seals, shown.verdicts, strict=True):
        say(f"\n{comparison.what}", as_json)
        say(f"  seal {seal}", as_json)
        for line in sentences.result(verdict):
            say(f"  {line}", as_json)
        say(f"  (A simulated listener {comparison.listener}.)", as_json)


def _say_words(shown: demonstration.DemoResult, dictionary: Gathered, as_json: bool) -> None:
    """The rehearsed words beside the curves, and the dictionary, which declines."""
    say(
        "\nThose words beside the measured difference (a rehearsal, never counted; its picture is in the report)",
        as_json,
    )
    for one in shown.words:
        say(f"  {one.word.term}: {one.outcome}", as_json)
    units = len(dictionary.there.units)
    say(f"\nThe dictionary of {dictionary.whose}'s own words, of {units} setups described and measured", as_json)
    say(f"  {words_learn.declined(dictionary.there, dictionary.measured)}", as_json)


def _dictionary(found: Gathered) -> dict[str, Any]:
    stated = {"listener": found.whose, "units": len(found.there.units), "units_lacking": found.there.lacking}
    return {"dictionary": stated}


COMMANDS = {"demo": demo}
