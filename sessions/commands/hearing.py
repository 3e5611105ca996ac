"""`hearing`: the highest tone that a listener notices on a chain, at a quiet level."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, cast

import click

from ..casebook import catalogue, hearing_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.hearing_rows import KeptReach, Reach, Side
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import kept_run_told
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, when_free
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, say, table
from .number_types import NUMBER, WHOLE
from .threshold import listener_of

if TYPE_CHECKING:
    from audio.engine.playback import Playback

    from ..casebook.playback_chain import PlaybackChain
    from ..listening.hearing_sounds import HearingSounds, SetLevel
    from ..listening.threshold_run import ThresholdRun

ASKED = "One of these holds a short high tone; the others are silent. Which one?"
LEAVE_THE_VOLUME = "Leave the volume as it is, also where you hear nothing: that can be loud for ears and tweeters."


@click.group(cls=CommandGroup, invoke_without_command=True)
@click.pass_context
def hearing(ctx: click.Context) -> None:
    """The highest tone that a listener notices on a chain, at a level they set quiet; not medical.

    Three presentations, one of which holds a short tone: the listener names it. Tones go up while they are noticed and
    down while they are not. What is found holds for that chain at that level, and never for somebody's hearing.

    Without a command: hearing run.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(run)


@hearing.command("run")
@click.option("--listener", help="Who listens; needed where there are several.")
@click.option("--setup", help="Gear with a route that plays; otherwise a device does.")
@click.option("--device", help="The playback device, by name; otherwise the system's.")
@click.option(
    "--side",
    type=click.Choice(["left", "right", "both"]),
    default="left",
    show_default=True,
    help="Which side plays; both for headphones. Of two loudspeakers one, as they cancel each other at places.",
)
@click.option("--anew", is_flag=True, help="Begin anew, even where a run like this was stopped.")
@json_option
@click.pass_obj
def run(
    context: Context,
    /,
    *,
    listener: str | None,
    setup: str | None,
    device: str | None,
    side: str,
    anew: bool,
    as_json: bool,
) -> None:
    """Find it at this terminal, after the level is set; stop with q; the same command without --anew takes it up."""
    from ..listening import players, threshold_run
    from ..listening.hearing_sounds import FADE_S, RATES_HZ, SetLevel, made, rate_for
    from . import hearing_told

    with context.open() as casebook:
        who = listener_of(casebook, listener)
        through = None if setup is None else catalogue.find(casebook, Setup, setup)
        chain = None if through is None else _chain_of(through)
        check_terminal()
        by = players.playing_on(chain, device)
        rate_hz = rate_for(players.taken_hz([chain], device, RATES_HZ))
        channels = players.LEAST_CHANNELS if chain is None else len(chain.route.channels)
        at_side = cast("Side", side if channels > 1 else "both")
        before = None if anew else _stopped(casebook, who, through, by, rate_hz, at_side)
        cautions = hearing_told.before_a_run(at_side, before)
        for caution in cautions:  # they stand on the screen too, which hides what is said here
            say(caution, as_json)
        casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
        title = f"{who.name}: how high tones are noticed"
        with ExitStack() as open_things:
            player = players.player_on([chain], device, fade_s=FADE_S)
            open_things.push(player.__exit__)
            level = _set_level(player, title, rate_hz, channels, at_side, before, cautions)
            if level is None:
                say("Stopped before the level was set; nothing was kept.", as_json)
                return
            if before is not None:
                level = SetLevel(before.sought.level_dbfs, before.sought.level_spl_db)
            sounds = made(level, by, rate_hz, channels, at_side)
            with threshold_run.begin(casebook, who, through, sounds.sought, anew=anew) as begun:
                _at_the_chair(begun, player, sounds, title)
                kept = next(one for one in hearing_rows.every(casebook) if one.id == begun.kept.id)
        _told(casebook, kept, as_json)


@hearing.command("list")
@json_option
@click.pass_obj
def list_runs(context: Context, as_json: bool) -> None:
    """List all runs, with where those that came to their end did end."""
    from . import hearing_told

    with context.open() as casebook:
        every = hearing_rows.every(casebook)
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        if as_json:
            give({"runs": [hearing_told.document(casebook, one) for one in every], "record_holds": holds})
            return
        if not every:
            say("Nobody looked yet: earwitness hearing run")
            return
        names = catalogue.names(casebook, Listener)
        rows = [
            [one.id, one.at[:10], names[one.listener_id], hearing_told.where(casebook, one), hearing_told.found(one)]
            for one in every
        ]
        say(table(["run", "date", "listener", "played through", "noticed up to"], rows))


@hearing.command("show")
@click.argument("run")
@json_option
@click.pass_obj
def show(context: Context, run: str, as_json: bool) -> None:
    """Show one RUN by its identifier: what was found, on what, and how."""
    from . import hearing_told

    with context.open() as casebook:
        kept = kept_run_told.named(hearing_rows.every(casebook), run, "hearing list")
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        if as_json:
            give(hearing_told.document(casebook, kept) | {"record_holds": holds})
        else:
            hearing_told.tell(casebook, kept)


@hearing.command("rehearse")
@click.option("--ends-at", type=NUMBER, required=True, metavar="HZ", help="The tone noticed half of the time.")
@click.option("--slope", type=NUMBER, default=20.0, show_default=True, help="How steeply it ends.")
@click.option(
    "--slips", type=NUMBER, default=0.0, show_default=True, help="The share of trials answered blind, 0 to 1."
)
@click.option("--runs", type=WHOLE, default=20, show_default=True, help="How many runs.")
@click.option("--seed", type=WHOLE, default=1, show_default=True, help="Of the simulation.")
@json_option
def rehearse(*, ends_at: float, slope: float, slips: float, runs: int, seed: int, as_json: bool) -> None:
    """Let a simulated listener who ends at a known tone do runs as at the chair; nothing is played or kept."""
    from ..listening.hearing_sounds import LEVEL, TONES_HZ
    from ..listening.simulated_reach import EndsAt
    from ..listening.simulated_reach import rehearse as let_do
    from ..measured.own_reach import khz

    done = let_do(EndsAt(ends_at, slope, slips), runs, seed)
    ended = [None if one.value is None else TONES_HZ[0] / one.value for one in done.found]
    trials, values = sorted(one.trials for one in done.found), sorted(one for one in ended if one is not None)
    if as_json:
        give(
            {
                "rehearsal": True,
                "ends_at_hz": ends_at,
                "slope": slope,
                "slips": slips,
                "seed": seed,
                "runs": runs,
                "held": done.held,
                "level": LEVEL,
                "trials": trials,
                "values_hz": ended,
            }
        )
        return
    spread = f"found {khz(values[0])} to {khz(values[-1])}" if values else "no run found an end"
    say(
        f"REHEARSAL: {counted(runs, 'run')} of a simulated listener who ends at {khz(ends_at)} (seed {seed}): "
        f"{spread}, in {trials[0]} to {trials[-1]} trials. The interval ({100 * LEVEL:g} %) held it in {done.held} of "
        f"{runs}."
    )
    kept_run_told.tell_slips(slips)


def _chain_of(setup: Setup) -> PlaybackChain:
    if setup.chain is None:
        raise CatalogueError(f"{setup.name!r} is heard through its recordings; leave --setup out, or name gear")
    if setup.chain.switch is not None:
        raise CatalogueError(f"{setup.name!r} stands behind an outside switch; name gear with a route of its own")
    return setup.chain


def _stopped(
    casebook: Casebook, listener: Listener, setup: Setup | None, device: str, rate_hz: int, side: Side
) -> KeptReach | None:
    """The newest run that was stopped on just this; its level is to be set again before it goes on."""
    whose = (listener.id, setup.id if setup else None)
    alike = [
        one
        for one in hearing_rows.every(casebook)
        if (one.listener_id, one.setup_id) == whose
        and not one.complete
        and (one.sought.device, one.sought.rate_hz, one.sought.side) == (device, rate_hz, side)
    ]
    return alike[-1] if alike else None


def _set_level(
    player: Playback,
    title: str,
    rate_hz: int,
    channels: int,
    side: Side,
    before: KeptReach | None,
    cautions: Sequence[str],
) -> SetLevel | None:
    """The level, set by the listener from far below what is heard; None if they left."""
    from ..listening.hearing_sounds import level_tones, levels_dbfs
    from . import hearing_level_page, threshold_screen

    levels, until = levels_dbfs(), None
    if before is not None:
        if before.sought.level_dbfs not in levels:
            raise CatalogueError("the run that was stopped has a level that is not played any more; begin with --anew")
        until = levels.index(before.sought.level_dbfs)
    sounds = level_tones(rate_hz, channels, side)
    page = hearing_level_page.HearingLevelPage(player, sounds, levels, rate_hz, title, until, cautions)
    try:
        threshold_screen.run(page)
    finally:
        player.stop()
    return page.level


def _at_the_chair(begun: ThresholdRun[Reach], player: Playback, sounds: HearingSounds, title: str) -> None:
    """Trials on the screen, until the run is at its end or the listener stops."""
    from ..listening import threshold_listening
    from . import threshold_page, threshold_screen

    listening = threshold_listening.ThresholdListening(begun, player, sounds)
    words = threshold_page.Wording(ASKED, "this one holds the tone", music=False)
    page = threshold_page.ThresholdPage(listening, title, message="", words=words, stands=LEAVE_THE_VOLUME)
    try:
        threshold_screen.run(page)
    finally:
        listening.leave()
        when_free(listening.write_out)
        if not begun.over:
            when_free(partial(begun.mark, "stopped"))


def _told(casebook: Casebook, kept: KeptReach, as_json: bool) -> None:
    from . import hearing_told

    if as_json:
        give(hearing_told.document(casebook, kept))
    elif kept.complete:
        hearing_told.tell(casebook, kept)
    kept_run_told.tell_next(kept, as_json)


COMMANDS = {"hearing": hearing}
