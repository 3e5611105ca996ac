"""`demo`: the whole job on the demo tracks, with simulated listeners, in a fresh casebook, ending in a report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from .. import demonstration
from ..results import how_answered, sentences
from . import words_learn
from .context import Context, give, json_option, progress, say

if TYPE_CHECKING:
    from ..casebook.store import Casebook
    from ..report.claims.standing import JudgedClaim
    from ..viewers.page_folder import Made
    from .words_learn import Gathered


@click.command()
@click.option("--dir", "folder", type=click.Path(path_type=Path), default=Path("earwitness-demo"), show_default=True)
@json_option
@click.pass_obj
def demo(context: Context, folder: Path, as_json: bool) -> None:
    """Play the whole job through: render, match, check, seal, rehearse comparisons and a ballot, judge, report.

    It ends with all that goes out: the report, two stills, a sheet of claims and a blind test for the viewers.
    """
    from ..casebook.store import create
    from ..report import contents, page
    from ..report.claims import given_out

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
        _keep_claims(casebook)
        progress("writing the viewers' page, the report, the stills and the sheet of claims …")
        viewers = _viewers_page(casebook)
        report, sheet = folder / "report.html", folder / "claims.html"
        made = contents.gather(casebook, "What was heard: the demo")
        page.write(made, report)
        given_out.write("What is claimed: the demo", made.made_at, made.claims, [sheet])
        given_out.note(casebook, made.claims)
        stills = _stills(casebook, shown)
    _say_result(shown, as_json)
    _say_words(shown, dictionary, as_json)
    _say_claims(made.claims, as_json)
    hint = f"earwitness --casebook {quote(str(folder))}"
    say("\nWhat goes out", as_json)
    say(f"  the report: {report}", as_json)
    say(f"  two stills for a video: {stills[0]} and {stills[1]}", as_json)
    say(f"  what is claimed, as a sheet for filming: {sheet}", as_json)
    say(f"  a blind test for the viewers, which opens from the disk in any browser: {viewers.written.index}", as_json)
    say(f"      its seal {viewers.sealed.seal}", as_json)
    say("What to type next:", as_json)
    say(f"  {hint} listen {demonstration.COMPARISONS[0].plan} --listener {demonstration.GUEST}", as_json)
    say("      take the first test yourself (needs a sound device)", as_json)
    say(f"  {hint} viewers collect {demonstration.COMPARISONS[0].plan} FILE", as_json)
    say("      count the codes that viewers sent, of any text that holds them", as_json)
    say(f"  {hint} crosscheck {' '.join(demonstration.BALLOT.setups)} --out words.png", as_json)
    say("      the words logged, beside the measured difference, as a picture", as_json)
    say(f"  {hint} verify", as_json)
    say("      recompute every hash and key of this casebook", as_json)
    say("  earwitness compare DIR_A DIR_B", as_json)
    say("      your own recordings, from two folders to a blind trial", as_json)
    if as_json:
        told: dict[str, Any] = {"casebook": str(folder), "report": str(report), "claims_sheet": str(sheet)}
        told |= {"viewers_page": str(viewers.written.index), "viewers_seal": viewers.sealed.seal}
        told |= {"stills": [str(one) for one in stills], "claims": [_claim(one) for one in made.claims]}
        give(told | shown.to_document() | _dictionary(dictionary))


def _keep_claims(casebook: Casebook) -> None:
    """The sentences of the reviewer, each with its evidence."""
    from ..report.claims import claim_rows, typed_evidence
    from ..report.claims.claim_rows import ClaimContent

    for one in demonstration.CLAIMS:
        content = ClaimContent(
            plans=(typed_evidence.plan(casebook, one.plan),) if one.plan else (),
            words=(typed_evidence.word(casebook, one.word),) if one.word else (),
            curves=(typed_evidence.curve(casebook, one.curve),) if one.curve else (),
        )
        claim_rows.keep(casebook, one.text, content)


def _viewers_page(casebook: Casebook) -> Made:
    """The first comparison as a test for an audience; it has as few trials as there may be, for the demo's size."""
    from ..plans import viewers_test
    from ..viewers import page_folder
    from .viewers import USUAL_RATE_HZ

    plan, folder = demonstration.COMPARISONS[0].plan, casebook.folder / "viewers"
    return page_folder.make(casebook, plan, viewers_test.LEAST_TRIALS, USUAL_RATE_HZ, folder)


def _stills(casebook: Casebook, shown: demonstration.DemoResult) -> list[Path]:
    """The two loudspeakers on one set of axes, and the card of the first comparison."""
    from ..plans import seals
    from ..report.stills import curve_stills, verdict_still, written

    first, wanted = demonstration.COMPARISONS[0], written.Wanted(casebook.folder / "stills", "1920x1080")
    sealed = seals.sealed_plan(casebook, first.plan)
    return [
        *written.write("response", lambda: curve_stills.make(casebook, "response", first.setups), wanted),
        *written.write(
            "verdict", lambda: verdict_still.verdict_still(shown.verdicts[0], sealed.seal, sealed.at), wanted
        ),
    ]


def _say_claims(claims: Sequence[JudgedClaim], as_json: bool) -> None:
    """What the reviewer wants to say, and what each comes to."""
    say(f"\nWhat {demonstration.REVIEWER} wants to say", as_json)
    for one in claims:
        marked = how_answered.listed([f'"{mark.words}"' for mark in one.overstated])
        too_much = f" (says too much: {marked})" if marked else ""
        say(f"  {one.standing}: {one.claim.text}{too_much}", as_json)


def _claim(one: JudgedClaim) -> dict[str, Any]:
    return {"text": one.claim.text, "standing": one.standing, "says_too_much": [mark.words for mark in one.overstated]}


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
        say(f"  {one.word.term}: {one.told}", as_json)
    units = len(dictionary.there.units)
    say(f"\nThe dictionary of {dictionary.whose}'s own words, of {units} setups described and measured", as_json)
    say(f"  {words_learn.declined(dictionary.there, dictionary.measured)}", as_json)


def _dictionary(found: Gathered) -> dict[str, Any]:
    stated = {"listener": found.whose, "units": len(found.there.units), "units_lacking": found.there.lacking}
    return {"dictionary": stated}


COMMANDS = {"demo": demo}
