"""`stills`: figures, verdict cards and ranked words for a video, as PNG on no paper."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError, PlanError
from .command_group import CommandGroup
from .context import Context, give, json_option, say

if TYPE_CHECKING:
    from audio.curves.still import Still

    from ..results.review import ReviewedPlan
    from ..results.verdict import Verdict

FOLDER = "stills"
SIZES = ("1920x1080", "3840x2160")


def _options(command: Any) -> Any:
    """Adds ``--out``, ``--size``, ``--look``, ``--opaque`` and ``--steps``."""
    for option in (
        json_option,
        click.option("--steps", is_flag=True, help="Built up one by one, as numbered files that line up."),
        click.option("--opaque", is_flag=True, help="On paper; otherwise the background is transparent."),
        click.option(
            "--look", type=click.Choice(["light", "dark", "both"]), default="light", show_default=True,
            help="Dark ink, or light ink for dark pictures.",
        ),
        click.option("--size", type=click.Choice(SIZES), default=SIZES[0], show_default=True),
        click.option("--out", "folder", type=click.Path(path_type=Path), help="The folder.  [default: stills/]"),
    ):  # fmt: skip
        command = option(command)
    return command


@click.group(cls=CommandGroup)
def stills() -> None:
    """Stills for a video: PNG in 1920x1080 or 3840x2160, on no paper, in large type within the safe area.

    All units share their axes and each part has its place, so that cuts from one to the other line up.
    """


@stills.command("curves")
@click.argument("setups", nargs=-1, required=True)
@click.option(
    "--what", default="response", show_default=True, help="Also: difference, impedance, horizontal, vertical."
)
@_options
@click.pass_obj
def curves(context: Context, /, setups: tuple[str, ...], what: str, **given: Any) -> None:
    """Draw what was measured of SETUPS on one set of axes."""
    from ..report.stills import curve_stills

    with context.open() as casebook:
        _write(casebook, f"{what} {' '.join(setups)}", lambda: curve_stills.make(casebook, what, setups), **given)


@stills.command("verdict")
@click.argument("plan")
@click.option("--rehearsal", is_flag=True, help="Its newest rehearsal's instead, marked as one.")
@_options
@click.pass_obj
def verdict(context: Context, /, plan: str, rehearsal: bool, **given: Any) -> None:
    """Draw the card of PLAN's verdict: the word, how it was answered, its trials, its seal."""
    from ..report.stills import verdict_still

    with context.open() as casebook:
        own = _reviewed(casebook, plan, rehearsal=rehearsal)
        found = _judged(own, rehearsal=rehearsal)
        _write(
            casebook,
            f"verdict {plan}{' rehearsal' if rehearsal else ''}",
            lambda: verdict_still.verdict_still(found, own.sealed.seal, own.sealed.at),
            **given,
        )


@stills.command("words")
@click.argument("setup", required=False)
@click.option("--plan", help="The words of a blind ballot instead.")
@click.option("--rehearsal", is_flag=True, help="The ballot's newest rehearsal, marked as one.")
@_options
@click.pass_obj
def words(context: Context, /, setup: str | None, plan: str | None, rehearsal: bool, **given: Any) -> None:
    """Draw the words said of SETUP, those of most tracks first; or a ballot's, those that tell two apart first."""
    from ..plans import words_in_trials
    from ..report.stills import word_stills
    from ..words import lexicon_rows, log
    from . import kept_run_told

    if (setup is None) == (plan is None):
        raise CatalogueError("name a setup, or a ballot with --plan")
    with context.open() as casebook:
        given["holds"] = kept_run_told.tell_if_edited(casebook, given["as_json"])
        if plan is not None:
            found = _judged(_reviewed(casebook, plan, rehearsal=rehearsal), rehearsal=rehearsal)
            _write(casebook, f"words {plan}", lambda: word_stills.ballot_still(found), **given)
            return
        own = catalogue.find(casebook, Setup, str(setup))
        said, lexicon = words_in_trials.labelled(casebook, log.words(casebook)), lexicon_rows.in_force(casebook)
        _write(casebook, f"words {own.name}", lambda: word_stills.said_still(said, own.id, own.name, lexicon), **given)


def _reviewed(casebook: Casebook, plan: str, *, rehearsal: bool) -> ReviewedPlan:
    from ..plans import seals
    from ..results import review

    wanted = seals.sealed_plan(casebook, plan).plan.id
    return next(one for one in review.review(casebook, rehearsals=rehearsal).plans if one.sealed.plan.id == wanted)


def _judged(one: ReviewedPlan, *, rehearsal: bool) -> Verdict:
    if not rehearsal:
        return one.verdict
    if one.rehearsal is None:
        raise PlanError(f"{one.sealed.plan.name!r} was never rehearsed to its end: earwitness rehearse")
    return one.rehearsal


def _write(
    casebook: Casebook,
    name: str,
    make: Callable[[], Still],
    *,
    folder: Path | None,
    size: str,
    look: str,
    opaque: bool,
    steps: bool,
    as_json: bool,
    holds: bool | None = None,
) -> None:
    from ..report.stills import written
    from ..report.stills.written import Wanted

    looks = ("light", "dark") if look == "both" else (look,)
    files = written.write(name, make, Wanted(folder or casebook.folder / FOLDER, size, looks, opaque, steps))
    if steps and len(files) == len(looks):
        say("This still has no steps: it is drawn whole, as one picture.", as_json)
    if as_json:
        give({"files": [str(file) for file in files]} | ({} if holds is None else {"record_holds": holds}))
    say(f"Drawn: {files[0]}" + (f" to {files[-1].name}" if len(files) > 1 else ""), as_json)


COMMANDS = {"stills": stills}
