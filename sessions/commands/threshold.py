"""`threshold`: the smallest change of a band, or of level, that a listener notices."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, threshold_rows
from ..casebook.catalogue import Listener, Passage, Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import kept_run_told, threshold_told
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, when_free
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, say, table
from .number_types import NUMBER, WHOLE, NumberRange, WholeRange

if TYPE_CHECKING:
    from ..casebook.playback_chain import PlaybackChain
    from ..casebook.threshold_rows import Sought
    from ..listening.threshold_run import ThresholdRun
    from ..listening.threshold_sounds import Band, ThresholdSounds

THIRD = 1 / 3


@click.group(cls=CommandGroup)
def threshold() -> None:
    """The smallest change of a band, or of level, that a listener notices on a chain.

    Three presentations, two of them alike: the listener names the other one. Changes grow smaller while they are
    noticed and larger while they are not. A run lasts five to ten minutes, and can be stopped and taken up.
    """


@threshold.command("find")
@click.option("--listener", help="Who listens; needed where there are several.")
@click.option("--setup", help="The setup whose recording plays, or gear with a route.")
@click.option("--passage", help="The passage that plays, best of 4 to 10 s.")
@click.option("--noise", is_flag=True, help="Play pink noise instead of a passage.")
@click.option("--octave", type=WholeRange(1), metavar="HZ", help="Look at the octave around HZ.")
@click.option("--third", type=WholeRange(1), metavar="HZ", help="Look at the third of an octave around HZ.")
@click.option("--word", help="Look at the band that the lexicon states for this word, and at its side.")
@click.option("--cut", is_flag=True, help="Look for the smallest lack in the octave or third, instead of a lift.")
@click.option("--level", is_flag=True, help="Look for the smallest step of level.")
@click.option("--device", help="The playback device, by name; otherwise the system's.")
@click.option("--dba", type=NumberRange(30, 110), help="The level at your ears as a meter reads it, for the dose.")
@click.option("--anew", is_flag=True, help="Begin anew, even where a run like this was stopped.")
@json_option
@click.pass_obj
def find(
    context: Context,
    /,
    listener: str | None,
    setup: str | None,
    passage: str | None,
    noise: bool,
    device: str | None,
    dba: float | None,
    anew: bool,
    as_json: bool,
    **wish: Any,
) -> None:
    """Find a listener's threshold at this terminal; stop with q; the same command without --anew takes it up."""
    from ..listening import players, threshold_run, threshold_sounds
    from . import asked_device

    if noise == (passage is not None) or noise == (setup is not None):
        raise click.UsageError("name what plays: --setup and --passage, or --noise")
    with context.open() as casebook:
        band = _band(casebook, **wish)
        who = listener_of(casebook, listener)
        through = None if setup is None else catalogue.find(casebook, Setup, setup)
        heard = None if passage is None else catalogue.find(casebook, Passage, passage)
        check_terminal()
        say("One moment: all sizes of the change are made ready.", as_json)
        chain = None if through is None else through.chain
        by = players.playing_on(chain, device)

        def played_at(rate_hz: int) -> int:
            return asked_device.free_rates([chain], device, {rate_hz}, as_json)[rate_hz]

        if through is None or heard is None:
            sounds = threshold_sounds.of_noise(band, by, dba, played_at)
        else:
            sounds = threshold_sounds.of_passage(casebook, through, heard, band, by, dba, played_at)
        told = threshold_told.little(sounds.sought)
        if told:
            say(told, as_json)
        with threshold_run.begin(casebook, who, through, sounds.sought, anew=anew) as run:
            again = (
                f"Taken up after {counted(run.answered, 'answer')}; set the volume as it was." if run.answered else ""
            )
            if again:
                say(again, as_json)
            _at_the_chair(casebook, run, sounds, chain, device, [told, again])
            kept = next(one for one in threshold_rows.every(casebook) if one.id == run.kept.id)
        if as_json:
            give(threshold_told.document(casebook, kept))
        elif kept.complete:
            threshold_told.tell(casebook, kept)
        kept_run_told.tell_next(kept, as_json)


@threshold.command("list")
@json_option
@click.pass_obj
def list_thresholds(context: Context, as_json: bool) -> None:
    """List all runs, with what those that came to their end found."""
    with context.open() as casebook:
        every = threshold_rows.every(casebook)
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        if as_json:
            runs = [threshold_told.document(casebook, one) for one in every]
            give({"thresholds": runs, "record_holds": holds})
            return
        if not every:
            say("No threshold was looked for yet: earwitness threshold find --setup NAME --passage NAME --octave 4000")
            return
        names, told = catalogue.names(casebook, Listener), threshold_told
        rows = [
            [
                *(one.id, one.at[:10], names[one.listener_id], told.what(one), told.where(casebook, one)),
                *(told.found(one), told.mean_of(one) or "-"),
            ]
            for one in every
        ]
        heads = ["run", "date", "listener", "change", "played", "noticed from", "mean of the band"]
        say(table(heads, rows))
        if any(told.mean_of(one) for one in every):
            say(
                "Noticed from: the size at the band's middle. crosscheck judges by the mean of the band, which is less."
            )


@threshold.command("show")
@click.argument("run")
@json_option
@click.pass_obj
def show(context: Context, run: str, as_json: bool) -> None:
    """Show one RUN by its identifier: what was found, on what, and how."""
    with context.open() as casebook:
        kept = kept_run_told.named(threshold_rows.every(casebook), run, "threshold list")
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        if as_json:
            give(threshold_told.document(casebook, kept) | {"record_holds": holds})
        else:
            threshold_told.tell(casebook, kept)


@threshold.command("rehearse")
@click.option(
    "--notices", type=NUMBER, required=True, metavar="DB", help="What is noticed half of the time, slips apart."
)
@click.option("--slope", type=NUMBER, default=2.0, show_default=True, help="How steeply it is noticed more often.")
@click.option(
    "--slips",
    type=NUMBER,
    default=0.0,
    show_default=True,
    help="The share of trials answered blind, 0 to 1; intervals hold up to 0.1.",
)
@click.option("--runs", type=WHOLE, default=20, show_default=True, help="How many runs.")
@click.option("--seed", type=WHOLE, default=1, show_default=True, help="Of the simulation.")
@click.option("--level", is_flag=True, help="Runs for a step of level.")
@json_option
def rehearse(
    *, notices: float, slope: float, slips: float, runs: int, seed: int, level: bool, as_json: bool
) -> None:  # fmt: skip
    """Let a simulated listener of a known threshold do runs as at the chair; nothing is kept."""
    from ..listening import simulated_threshold
    from ..listening.simulated_threshold import SimulatedListener

    search = simulated_threshold.chair_search(level=level)
    done = simulated_threshold.rehearse(search, SimulatedListener(notices, slope, slips), runs, seed)
    trials = sorted(one.trials for one in done.found)
    spread = simulated_threshold.spread(done.found)
    if as_json:
        give(
            {
                "rehearsal": True,
                "notices_db": notices,
                "slope": slope,
                "slips": slips,
                "seed": seed,
                "runs": runs,
                "held": done.held,
                "level": search.level,
                "trials": trials,
                "values_db": [one.value for one in done.found],
            }
        )
        return
    found = "no run found a value" if spread is None else f"found {spread[0]:.2f} to {spread[1]:.2f} dB"
    often = "half of the time"
    if slips:
        often = f"in half of the trials attended to, and answers blind in {100 * slips:g} % of all trials"
    say(
        f"REHEARSAL: {counted(runs, 'run')} of a simulated listener who notices {notices:g} dB {often} (seed {seed}): "
        f"{found}, in {trials[0]} to {trials[-1]} trials. The interval ({100 * search.level:g} %) held {notices:g} dB "
        f"in {done.held} of {runs}."
    )
    kept_run_told.tell_slips(slips)


def _band(
    casebook: Casebook, octave: int | None, third: int | None, word: str | None, cut: bool, level: bool
) -> Band | None:
    """The band that is asked for; None for a level."""
    from ..listening.threshold_sounds import Band, band_between
    from ..words import lexicon_rows

    if sum((octave is not None, third is not None, word is not None, level)) != 1:
        raise click.UsageError("name one thing to look for: --octave HZ, --third HZ, --word WORD or --level")
    if cut and (level or word is not None):
        raise click.UsageError("--cut belongs to --octave and --third; a word has its own side, a level has none")
    if word is not None:
        entry = lexicon_rows.in_force(casebook).named(word)
        if entry.low_hz is None or entry.high_hz is None or entry.says is None:
            raise CatalogueError(f"nobody states a band for {entry.word!r}; name one with --octave HZ or --third HZ")
        return band_between(entry.low_hz, entry.high_hz, less=entry.says == "less")
    if octave is not None:
        return Band(octave, 1.0, cut)
    return None if third is None else Band(third, THIRD, cut)


def listener_of(casebook: Casebook, name: str | None) -> Listener:
    """The listener by name, or the only one there is."""
    if name is not None:
        return catalogue.find(casebook, Listener, name)
    there = catalogue.everything(casebook, Listener)
    if len(there) != 1:
        listed = ", ".join(one.name for one in there) or "none yet; add one: earwitness listener add NAME"
        raise CatalogueError(f"say who listens with --listener NAME; there are {listed}")
    return there[0]


def _at_the_chair(
    casebook: Casebook,
    run: ThresholdRun[Sought],
    sounds: ThresholdSounds,
    chain: PlaybackChain | None,
    device: str | None,
    said: Sequence[str],
) -> None:
    """Player, screen and trials, until the run is at its end or the listener stops."""
    from ..listening import players, threshold_listening
    from . import threshold_page, threshold_screen

    casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
    with ExitStack() as open_things:
        title = f"{run.listener.name}: the smallest change you notice"
        player = players.player_on([chain], device)
        open_things.push(player.__exit__)
        listening = threshold_listening.ThresholdListening(run, player, sounds)
        try:
            message = " ".join(filter(None, [*said, threshold_page.QUIET]))  # the screen hides what was said before
            threshold_screen.run(threshold_page.ThresholdPage(listening, title, message=message))
        finally:
            listening.leave()
            when_free(listening.write_out)
            if not run.over:
                when_free(partial(run.mark, "stopped"))


COMMANDS = {"threshold": threshold}
