"""`compare`: the first evening in one command, from two folders of recordings into the first blind trial."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import Any

import click

from audio import track_time
from audio.pairing import Pair

from ..casebook import catalogue
from ..casebook.store import FILE_NAME, Casebook, create, open_casebook
from ..errors import PlanError
from ..plans import check_notes, coin_phrase, next_steps, overview, plan_rows, resumed_comparison, seals, two_folders
from ..plans.plan import Plan, check_numbers, void_reasons
from ..plans.plan_rows import SealedPlan
from ..preparation.passage_proposals import ProposedPassage
from ..preparation.recording_folder import track_name
from . import asked_device, giveaways, plan, strays
from .context import NOT_PRIVATE, Context, give, json_option, progress, say
from .lags import COHERENCE, answer, described, document_of, lag_of
from .match_summary import tell_sheet
from .moments import moments_of


@click.command()
@click.argument("dir_a", type=click.Path(path_type=Path))
@click.argument("dir_b", type=click.Path(path_type=Path))
@click.option("--trials", type=int, default=16, show_default=True, help="How many trials.")
@click.option("--preference", is_flag=True, help="Ask which is preferred, instead of ABX.")
@click.option("--listener", default="", help="Who listens; otherwise your user name.")
@click.option("--device", help="The playback device, by name.")
@click.option(
    "--lag", "lags", multiple=True, metavar="TRACK=S", help="Where a loop fits twice: how late DIR_B's recording is."
)
@click.option("--around", "moments", multiple=True, metavar="TRACK=M:SS", help="Also play around a moment of yours.")
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
    yes: bool,
    no_listen: bool,
    as_json: bool,
) -> None:
    """Pair the recordings of DIR_A and DIR_B, match, mend, check and plan them, seal, and listen.

    Run again with the same folders in the same place it goes on where it was.
    """
    from .listen import check_terminal

    check_numbers(trials, "0.05")
    around_s, chosen = moments_of(moments), dict(lag_of(text) for text in lags)
    who = listener or getpass.getuser()
    if not no_listen:
        check_terminal()
    elif not (yes or sys.stdin.isatty()):
        raise PlanError("sealing asks for a confirmation; add --yes where nobody can be asked")
    folder = context.given or Path("-vs-".join(two_folders.plain_names(dir_a, dir_b)).replace(" ", "-"))
    hint = f"earwitness --casebook {quote(str(folder))}"
    wish = plan_rows.Wish(method="preference" if preference else "abx", listeners=(who,), trials=trials)
    there = (folder / FILE_NAME).is_file()
    again = _typed(click.get_current_context())
    chair = _Chair(context, folder, hint, who, device, again, yes=yes, no_listen=no_listen, as_json=as_json)
    if there:
        with open_casebook(folder) as casebook:
            setups = resumed_comparison.made_before(casebook, dir_a, dir_b)
            if setups is not None:
                _go_on(casebook, _Again((dir_a, dir_b), setups, wish, chosen, around_s), chair)
                return
    with _going_on_later(chair, f"nothing of this comparison is kept yet in {folder}"):
        progress("pairing the recordings …")
        paired = two_folders.pair_folders(dir_a, dir_b)  # refuse before anything is made
        two_folders.check_tracks(paired, chosen)
        unread = [path for one in (dir_a, dir_b) for path in strays.tell_unread(one, as_json)]
        left = strays.without_partner((*paired.left_a, *paired.left_b))
        if not strays.agreed(left, "Go on without them?", yes, as_json):
            say(f"Nothing is kept. Bring the recordings that are missing, then again: {again}", as_json)
            return
    with open_casebook(folder) if there else create(folder) as casebook:
        with _going_on_later(chair, f"nothing of this comparison is kept yet in {folder}"):
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
            )
        if not as_json:
            tell(made, hint)
        _seal_and_listen(casebook, made.plan, chair, lambda seal: _document(made, seal, folder) | {"not_read": unread})


@dataclass(frozen=True)
class _Chair:
    """Who listens, on what, and how far to go by itself."""

    context: Context
    folder: Path
    hint: str
    who: str
    device: str | None
    again: str
    yes: bool
    no_listen: bool
    as_json: bool


@dataclass(frozen=True)
class _Again:
    """What is asked of a comparison that is in the casebook already: its folders and setups, and what is said anew."""

    folders: tuple[Path, Path]
    setups: tuple[str, str]
    wish: plan_rows.Wish
    lags_s: dict[str, float]
    around_s: dict[str, list[float]]


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


@contextmanager
def _going_on_later(chair: _Chair, left: str) -> Iterator[None]:
    """What is there, and the command to go on, where somebody stops it with Ctrl-C."""
    try:
        yield
    except (KeyboardInterrupt, click.Abort) as error:
        raise click.Abort(f"stopped; {left}; to go on: {chair.again}") from error


def _go_on(casebook: Casebook, asked: _Again, chair: _Chair) -> None:
    """Go on with a comparison that is in the casebook already, from wherever it stands."""
    with _going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
        say(f"These folders are compared already in {chair.folder}; it goes on where it was.", chair.as_json)
        paired = resumed_comparison.not_compared(casebook, asked.setups, *asked.folders)
        for folder in asked.folders:
            strays.tell_unread(folder, chair.as_json)
        for line in strays.without_partner((*paired.left_a, *paired.left_b)):
            say(line, chair.as_json)
        new = [pair for pair in paired.pairs if track_name(pair.a) in asked.lags_s]
        _check_the_rest(casebook, asked, {track_name(pair.a) for pair in new}, chair.hint)
        rest = replace(paired, pairs=tuple(pair for pair in paired.pairs if pair not in new))
        for pair in rest.pairs:
            progress(f"looking why {pair.name} is left out …")
        left_out = resumed_comparison.why_left_out(casebook, asked.setups, rest, chair.again, chair.hint)
    if not chair.as_json:
        tell_left_out(left_out)
    sealed = resumed_comparison.sealed(casebook, asked.setups, asked.wish)
    if new:
        _add(casebook, asked, new, sealed, chair)
        return
    if sealed is None:
        with _going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
            made = resumed_comparison.plan(casebook, asked.setups, asked.wish, progress)
        if not chair.as_json:
            plan.show_plan(made)
            for note in check_notes.sentences(casebook, made):
                say(f"  {note}")
        _seal_and_listen(casebook, made, chair, lambda seal: _document_of(made, seal, chair.folder))
        return
    name = quote(sealed.plan.name)
    if chair.as_json:
        give(_document_of(sealed.plan, sealed.seal, chair.folder))
    if plan_rows.opening(casebook, sealed.plan.id) is not None:
        say(f"Plan {sealed.plan.name!r} is over. Its result: {chair.hint} verdict {name}", chair.as_json)
        say(f"A further question: {chair.hint} plan --help", chair.as_json)
        return
    if coin_phrase.is_awaited(sealed.plan) and plan_rows.phrase(casebook, sealed.plan.id) is None:
        say(f'Its order awaits words from somebody else: {chair.hint} phrase {name} "WORDS"', chair.as_json)
        return
    _listen(casebook, sealed, chair)


def _check_the_rest(casebook: Casebook, asked: _Again, new: Collection[str], hint: str) -> None:
    """Nothing, if nothing new is said of tracks that are in the comparison already."""
    known = {name: lag_s for name, lag_s in asked.lags_s.items() if name not in new}
    resumed_comparison.check_lags(casebook, asked.setups, known, hint)
    moments = [(name, at_s) for name, times_s in asked.around_s.items() if name not in new for at_s in times_s]
    # the command that was told, typed again with a lag, names the moments that are played already
    further = [each for each in moments if not (asked.lags_s and resumed_comparison.is_played(casebook, *each))]
    if further:
        around = " ".join(
            f"--around {quote(f'{name}={track_time.told(at_s, 0 if at_s.is_integer() else 3)}')}"
            for name, at_s in further
        )
        raise PlanError(
            "these folders are compared already; for passages around further moments: "
            f"{hint} passage suggest {around} --add"
        )


def _add(casebook: Casebook, asked: _Again, pairs: Sequence[Pair], sealed: SealedPlan | None, chair: _Chair) -> None:
    """Take in tracks that were left out before, and seal and listen to a plan with them."""
    names = {track_name(pair.a) for pair in pairs}
    with _going_on_later(chair, f"the comparison is kept as it was in {chair.folder}"):
        made = resumed_comparison.add(
            casebook,
            asked.folders,
            asked.setups,
            asked.wish,
            pairs,
            lags_s={name: lag_s for name, lag_s in asked.lags_s.items() if name in names},
            around_s={name: times_s for name, times_s in asked.around_s.items() if name in names},
            progress=progress,
            again=chair.again,
        )
    if not chair.as_json:
        tell(made, chair.hint)
    if sealed is not None and plan_rows.opening(casebook, sealed.plan.id) is None:
        name = sealed.plan.name
        say(
            f"Plan {name!r} was sealed before, without {' and '.join(sorted(names))}, and stays as it is. To leave it "
            f'for the new one: {chair.hint} plan close {quote(name)} --why "a track was added"',
            chair.as_json,
        )
    _seal_and_listen(casebook, made.plan, chair, lambda seal: _document(made, seal, chair.folder) | {"resumed": True})


def _seal_and_listen(casebook: Casebook, made: Plan, chair: _Chair, document: Callable[[str], dict[str, Any]]) -> None:
    """Seal a draft, if that is wished, and listen."""
    name, hint, as_json = quote(made.name), chair.hint, chair.as_json
    if not void_reasons(made):
        with _going_on_later(chair, f"the draft {made.name} is kept in {chair.folder}, not sealed"):
            made = asked_device.fitted_or_kept(casebook, made, chair.device, hint, as_json)
    if void_reasons(made):
        step = next_steps.waiting(overview.gather(casebook))[0]
        raise PlanError(
            f"not sealed, since the verdict would be void: {'; '.join(void_reasons(made))}. What was made so far is in "
            f"{chair.folder}, with the draft {made.name}; next: {step.command(hint)}"
        )
    with _going_on_later(chair, f"the draft {made.name} is kept in {chair.folder}, not sealed"):
        sealing = chair.yes or click.confirm("Seal this plan?", default=True, err=as_json)
    if not sealing:
        say(f"Not sealed. The draft is kept ({hint} plan show {name}); to seal it: {hint} seal {name}", as_json)
        return
    sealed = seals.seal(casebook, made.name)
    if as_json:
        give(document(sealed.seal))
    if not chair.context.is_private(chair.folder / FILE_NAME):
        say(NOT_PRIVATE, as_json)
    plan.tell_seal(sealed, hint, as_json)
    _listen(casebook, sealed, chair)


def _listen(casebook: Casebook, sealed: SealedPlan, chair: _Chair) -> None:
    from ..listening import players
    from ..listening.session import begin
    from .listen import run_session

    if chair.no_listen:
        plan.tell_listen(sealed.plan, chair.hint, chair.as_json)
        return
    players.check_devices(sealed.plan, chair.device)
    catalogue.listener_named(casebook, chair.who)
    with begin(casebook, sealed.plan.name, chair.who, chair.device or "the system's default") as session:
        run_session(session, chair.device, chair.hint)


def tell(made: two_folders.Comparison, hint: str) -> None:
    """What was made of the two folders, in words."""
    for pair in made.pairs:
        note = "" if pair.by == "name" else f"  (paired by content with {pair.b.name})"
        say(f"track {pair.name}{note}")
    for name, laid in made.laid.items():
        say(f"{name}: {described(laid, name, made.setups[1], hint)}")
    say(COHERENCE)
    tell_left_out(made.left_out)
    tell_passages(made.passages)
    tell_sheet(made.sheet)
    giveaways.tell(made.check, made.mended, hint)
    plan.show_plan(made.plan)


def tell_left_out(left_out: Sequence[two_folders.LeftOut]) -> None:
    """The tracks that are not in the comparison, and why."""
    for out in left_out:
        say(f"left out: {out.track}: {out.why}")


def tell_passages(found: Sequence[ProposedPassage]) -> None:
    """The passages and what each was chosen by; how to have others, where nobody marked a moment."""
    for part in found:
        say(f"passage of {part.track.name}: {part.start_s:.1f} to {part.end_s:.1f} s, {part.what}")
    if not any(part.marks_s for part in found):
        say("To hear moments of your own as well, add for each: --around TRACK=M:SS")


def _document(made: two_folders.Comparison, seal: str, folder: Path) -> dict[str, Any]:
    return {
        "casebook": str(folder),
        "setups": list(made.setups),
        "pairs": [{"track": pair.name, "a": str(pair.a), "b": str(pair.b), "by": pair.by} for pair in made.pairs],
        "left_over": [str(path) for path in made.left_over],
        "left_out": [{"track": out.track, "why": out.why} for out in made.left_out],
        "laid": {name: document_of(laid) for name, laid in made.laid.items()},
        "passages": [part.to_document() for part in made.passages],
        "match": made.sheet.to_document(),
        "giveaways": giveaways.document_of(made.check) | {"mended": [one.to_document() for one in made.mended]},
        "plan": made.plan.name,
        "seal": seal,
    }


def _document_of(made: Plan, seal: str, folder: Path) -> dict[str, Any]:
    """A comparison that was gone on with, for programs."""
    names = [setup.name for setup in made.setups]
    return {"casebook": str(folder), "setups": names, "plan": made.name, "seal": seal, "resumed": True}


COMMANDS = {"compare": compare}
