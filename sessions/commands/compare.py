"""`compare`: the first evening in one command, from two folders of recordings into the first blind trial."""

from __future__ import annotations

import getpass
import shlex
import sys
from dataclasses import replace
from pathlib import Path
from shlex import quote

import click
from click.core import ParameterSource

from audio.files import reading
from audio.pairing import Pair

from ..casebook import beside, catalogue
from ..casebook.catalogue import Listener
from ..casebook.nearest_casebook import above
from ..casebook.store import FILE_NAME, create, open_casebook
from ..errors import PlanError
from ..plans import drafting, plan_rows, resumed_comparison, two_folders
from ..preparation import recording_folder
from . import next_step, strays
from .compare_again import Again, go_on
from .comparison_chair import Chair, going_on_later, seal_and_listen
from .comparison_summary import document, tell
from .context import Context, confirmed, json_option, progress, say
from .lags import answer, lag_of
from .moments import moments_of
from .number_types import WHOLE


@click.command()
@click.argument("dir_a", type=click.Path(path_type=Path))
@click.argument("dir_b", type=click.Path(path_type=Path))
@click.option("--trials", type=WHOLE, default=16, show_default=True, help="How many trials.")
@click.option("--preference", is_flag=True, help="Ask which is preferred, instead of ABX.")
@click.option("--listener", default="", help="Who listens; otherwise your user name.")
@click.option("--device", help="The playback device, by name.")
@click.option(
    "--lag", "lags", multiple=True, metavar="TRACK=S", help="Where a loop fits twice: how late DIR_B's recording is."
)
@click.option("--around", "moments", multiple=True, metavar="TRACK=M:SS", help="Also play around a moment of yours.")
@click.option(
    "--accept", "accepted", multiple=True, metavar="KIND=WHY", help="Also play what gives a setup away so, and why."
)
@click.option("--polarity", is_flag=True, help="Also turn inverted polarity round.")
@click.option("--yes", is_flag=True, help="Seal without asking.")
@click.option("--no-listen", is_flag=True, help="Stop after sealing; listen later.")
@json_option
@click.pass_obj
def compare(
    context: Context,
    dir_a: Path,
    dir_b: Path,
    trials: int,
    preference: bool,
    listener: str,
    device: str | None,
    lags: tuple[str, ...],
    moments: tuple[str, ...],
    accepted: tuple[str, ...],
    polarity: bool,
    yes: bool,
    no_listen: bool,
    as_json: bool,
) -> None:
    """Pair the recordings of DIR_A and DIR_B, match, mend, check and plan them, seal, and listen.

    At most six passages are played, those in which the two differ most, or one more than the moments that you mark;
    tracks beyond these are named, here and by status. What you accept or add later is played besides.

    Run again with the same folders in the same place it goes on where it was.
    """
    from .at_terminal import check_terminal

    around_s, chosen = moments_of(moments), dict(lag_of(text) for text in lags)
    who = listener or getpass.getuser()
    wish = plan_rows.Wish(
        method="preference" if preference else "abx",
        listeners=(who,),
        trials=trials,
        accepted=_accepted(accepted),
    )
    if not no_listen:
        check_terminal()
    elif not (yes or sys.stdin.isatty()):
        raise PlanError("sealing asks for a confirmation; add --yes where nobody can be asked")
    folder = context.given or Path("-vs-".join(two_folders.plain_names(dir_a, dir_b)).replace(" ", "-"))
    hint = f"earwitness --casebook {quote(str(folder))}"
    there = (folder / FILE_NAME).is_file()
    drafting.check_wish(wish, _listeners(folder) if there else ())
    again = _typed(click.get_current_context())
    click.get_current_context().find_root().obj = replace(context, given=folder)  # what else is told names it too
    chair = Chair(context, folder, hint, who, device, again, yes=yes, no_listen=no_listen, as_json=as_json)
    if there:
        with open_casebook(folder) as casebook:
            setups = resumed_comparison.made_before(casebook, dir_a, dir_b)
            if setups is not None:
                go_on(casebook, Again((dir_a, dir_b), setups, wish, chosen, around_s, polarity, _unsaid()), chair)
                return
    with going_on_later(chair, f"nothing of this comparison is kept yet in {folder}"):
        for one in (dir_a, dir_b):
            recording_folder.check_folder(one)
        if not (there or context.given or _agreed_on_its_own(folder, (dir_a, dir_b), chair)):
            return
        progress("pairing the recordings …")
        paired = two_folders.pair_folders(dir_a, dir_b)  # refuse before anything is made
        two_folders.check_tracks(paired, chosen)
        _tell_beside(folder, paired.pairs[0], (dir_a, dir_b), as_json)
        unread = [path for one in (dir_a, dir_b) for path in strays.tell_unread(one, as_json)]
        left = strays.without_partner((*paired.left_a, *paired.left_b))
        if not strays.agreed(left, "Go on without them?", yes, as_json):
            say(f"Nothing is kept. Bring the recordings that are missing, then again: {again}", as_json)
            return
    with open_casebook(folder) if there else create(folder) as casebook:
        with going_on_later(chair, f"nothing of this comparison is kept yet in {folder}"):
            made = two_folders.prepare(
                casebook,
                dir_a,
                dir_b,
                wish,
                paired=paired,
                around_s=around_s,
                lags_s=chosen,
                choose=lambda asked: answer(asked, as_json),
                progress=progress,
                again=again,
                polarity=polarity,
            )
        if not as_json:
            tell(made, hint, next_step.following(casebook))
        seal_and_listen(casebook, made.plan, chair, lambda seal: document(made, seal, folder) | {"not_read": unread})


def _unsaid() -> frozenset[str]:
    """The parts of the wish that nobody typed."""
    source = click.get_current_context().get_parameter_source
    options = {"listeners": "listener", "trials": "trials"}
    return frozenset(part for part, option in options.items() if source(option) is ParameterSource.DEFAULT)


def _listeners(folder: Path) -> list[str]:
    with open_casebook(folder) as casebook:
        return list(catalogue.names(casebook, Listener).values())


def _accepted(texts: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """The kinds of giveaways that are accepted, each with its reason.

    Raises
    ------
    PlanError
        If one is no kind, has no reason, or is another take: that is not played whatever the reason.
    """
    from .plan import acceptance

    given = dict(map(acceptance, texts))
    if two_folders.OTHER_TAKE in given:
        raise PlanError(
            f"--accept {two_folders.OTHER_TAKE} changes nothing here: another take of a piece is left out, whatever "
            "the reason; bring one performance through both setups"
        )
    return tuple(given.items())


def _agreed_on_its_own(folder: Path, dirs: tuple[Path, Path], chair: Chair) -> bool:
    """Whether a casebook of its own is begun where the commands that are typed here use another one already."""
    here = above(Path.cwd())
    if here is None:
        return True
    say(
        f"Commands that are typed here use the casebook {here}; this comparison would begin another one, in {folder}. "
        f"To compare in the one there is: "
        f"earwitness --casebook {quote(str(here))} compare {shlex.join(map(str, dirs))}",
        chair.as_json,
    )
    if chair.yes or confirmed("Begin another casebook?", default=False, as_json=chair.as_json):
        return True
    say("Nothing is kept.", chair.as_json)
    return False


def _tell_beside(folder: Path, pair: Pair, dirs: tuple[Path, Path], as_json: bool) -> None:
    """Say where the same recordings are compared already, if a casebook beside this one holds them."""
    found = beside.holding(folder.resolve().parent, (reading.sha256(pair.a), reading.sha256(pair.b)))
    if found is None or found[0].casebook == folder.resolve():
        return
    hint = f"earwitness --casebook {quote(str(found[0].casebook))}"
    both = shlex.join(map(str, dirs))
    say(
        f"These recordings stand in the casebook {found[0].casebook} already, as {found[0].setup!r} and "
        f"{found[1].setup!r}. To go on there, first for each folder: {hint} setup relink DIR; and then: "
        f"{hint} compare {both}",
        as_json,
    )


def _typed(ctx: click.Context) -> str:
    """The command as it was typed, without the moments, so that it can be typed again."""
    given, words = ctx.obj.given, ["earwitness"]
    words += ["--casebook", str(given)] if given else []
    words += ["compare", str(ctx.params["dir_a"]), str(ctx.params["dir_b"])]
    for option in (one for one in ctx.command.params if isinstance(one, click.Option) and one.name != "moments"):
        value = ctx.params.get(option.name or "")
        if option.is_flag:
            words += [option.opts[0]] if value else []
        elif value and value != option.default:
            words += [word for each in (value if option.multiple else [value]) for word in (option.opts[0], str(each))]
    return " ".join(quote(word) for word in words if word != "--json")


COMMANDS = {"compare": compare}
