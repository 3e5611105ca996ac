"""`threshold`: the smallest change of a band, or of level, that a listener notices."""

from __future__ import annotations

from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, threshold_rows
from ..casebook.catalogue import Listener, Passage, Setup
from ..casebook.store import Casebook
from ..casebook.threshold_rows import KeptThreshold
from ..errors import CatalogueError
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, when_free
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, say, table
from .number_types import NUMBER, WHOLE, NumberRange, WholeRange

if TYPE_CHECKING:
    from ..casebook.playback_chain import PlaybackChain
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
    """Find a listener's threshold at this terminal; stop with q, and take it up with the same command."""
    from ..listening import threshold_run, threshold_sounds
    from . import asked_device

    if noise == (passage is not None) or noise == (setup is not None):
        raise click.UsageError("name what plays: --setup and --passage, or --noise")
    with context.open() as casebook:
        band = _band(casebook, **wish)
        who = _listener(casebook, listener)
        through = None if setup is None else catalogue.find(casebook, Setup, setup)
        heard = None if passage is None else catalogue.find(casebook, Passage, passage)
        check_terminal()
        say("One moment: all sizes of the change are made ready.", as_json)
        chain = None if through is None else through.chain
        by = chain.route.text if chain is not None else device or "the system's default"
        if through is None or heard is None:
            sounds = threshold_sounds.of_noise(band, by, dba)
        else:
            sounds = threshold_sounds.of_passage(casebook, through, heard, band, by, dba)
        asked_device.check_rate(chain, device, sounds.sought.rate_hz)
        with threshold_run.begin(casebook, who, through, sounds.sought, anew=anew) as run:
            if run.answered:
                say(f"Taken up after {counted(run.answered, 'answer')}; set the volume as it was.", as_json)
            _at_the_chair(casebook, run, sounds, chain, device)
            kept = next(one for one in threshold_rows.every(casebook) if one.id == run.kept.id)
        if as_json:
            give(_document(casebook, kept))
        elif kept.complete:
            _tell(casebook, kept)
        if not kept.complete:
            say(
                f"Stopped after {counted(len(kept.answers), 'answer')}, which are kept; the same command takes it up.",
                as_json,
            )


@threshold.command("list")
@json_option
@click.pass_obj
def list_thresholds(context: Context, as_json: bool) -> None:
    """List all runs, with what those that came to their end found."""
    with context.open() as casebook:
        every = threshold_rows.every(casebook)
        if as_json:
            give({"thresholds": [_document(casebook, one) for one in every]})
            return
        if not every:
            say("No threshold was looked for yet: earwitness threshold find --setup NAME --passage NAME --octave 4000")
            return
        names = catalogue.names(casebook, Listener)
        rows = [
            [one.id, one.at[:10], names[one.listener_id], _what(one), _where(casebook, one), _found(one)]
            for one in every
        ]
        say(table(["run", "date", "listener", "change", "played", "noticed from"], rows))


@threshold.command("show")
@click.argument("run")
@json_option
@click.pass_obj
def show(context: Context, run: str, as_json: bool) -> None:
    """Show one RUN by its identifier: what was found, on what, and how."""
    with context.open() as casebook:
        there = [one for one in threshold_rows.every(casebook) if one.id == run]
        if not there:
            raise CatalogueError(f"there is no run {run!r}; see earwitness threshold list")
        if as_json:
            give(_document(casebook, there[0]))
        else:
            _tell(casebook, there[0])


@threshold.command("rehearse")
@click.option("--notices", type=NUMBER, required=True, metavar="DB", help="What the listener notices half of the time.")
@click.option("--slope", type=NUMBER, default=2.0, show_default=True, help="How steeply it is noticed more often.")
@click.option("--slips", type=NUMBER, default=0.0, show_default=True, help="The share of blind answers, 0 to 1.")
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
    say(
        f"REHEARSAL: {counted(runs, 'run')} of a simulated listener who notices {notices:g} dB half of the time "
        f"(seed {seed}): {found}, in {trials[0]} to {trials[-1]} trials. The interval ({100 * search.level:g} %) held "
        f"{notices:g} dB in {done.held} of {runs}."
    )


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


def _listener(casebook: Casebook, name: str | None) -> Listener:
    if name is not None:
        return catalogue.find(casebook, Listener, name)
    there = catalogue.everything(casebook, Listener)
    if len(there) != 1:
        listed = ", ".join(one.name for one in there) or "none yet; add one: earwitness listener add NAME"
        raise CatalogueError(f"say whose threshold it is with --listener NAME; there are {listed}")
    return there[0]


def _at_the_chair(
    casebook: Casebook,
    run: ThresholdRun,
    sounds: ThresholdSounds,
    chain: PlaybackChain | None,
    device: str | None,
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
            threshold_screen.run(threshold_page.ThresholdPage(listening, title))
        finally:
            listening.leave()
            when_free(listening.write_out)
            if not run.over:
                when_free(partial(run.mark, "stopped"))


def _what(kept: KeptThreshold) -> str:
    sought = kept.sought
    if sought.kind == "level":
        return "all of it louder"
    width = "octave" if sought.octaves == 1 else f"{sought.octaves:.2f} octave"
    return f"{'more' if sought.kind == 'lift' else 'less'} of the {width} around {sought.centre_hz} Hz"


def _where(casebook: Casebook, kept: KeptThreshold) -> str:
    from ..listening.threshold_sounds import NOISE

    if kept.setup_id is None:
        return NOISE
    return f"{kept.sought.passage} through {catalogue.names(casebook, Setup)[kept.setup_id]}"


def _found(kept: KeptThreshold) -> str:
    """What was found, in few words; of a run that was stopped nothing."""
    from ..measured import own_thresholds

    if not kept.complete:
        return f"stopped after {counted(len(kept.answers), 'answer')}"
    found, sizes = own_thresholds.found(kept), kept.sought.sizes_db
    if found.place == "above":
        return f"not up to {sizes[-1]:g} dB"
    if found.place == "below":
        return f"{sizes[0]:g} dB and less"
    low = f"{found.low:.2f}" if found.low is not None else f"below {sizes[0]:g}"
    high = f"{found.high:.2f} dB" if found.high is not None else f"above {sizes[-1]:g} dB"
    middle = f"{found.value:.2f} dB, " if found.value is not None else ""
    return f"{middle}{low} to {high}"


def _tell(casebook: Casebook, kept: KeptThreshold) -> None:
    from ..measured import own_thresholds

    sought = kept.sought
    name = catalogue.names(casebook, Listener)[kept.listener_id]
    head = f"{name}, {_what(kept)}, on {_where(casebook, kept)}: "
    if not kept.complete:
        say(f"{head}{_found(kept)}. A run that was stopped tells nothing yet; the same command takes it up.")
        return
    found, sure = own_thresholds.found(kept), f"{100 * sought.level:g} %"
    trials = f"by {len(kept.answers)} trials of {sought.alternatives} presentations"
    if found.place == "above":
        say(f"{head}not noticed up to {sought.sizes_db[-1]:g} dB, the largest that was played ({sure} sure, {trials}).")
    elif found.place == "below":
        say(
            f"{head}noticed at {sought.sizes_db[0]:g} dB already, the smallest that was played ({sure} sure, {trials})."
        )
    else:
        say(
            f"{head}noticed from {_found(kept)} ({sure}, {trials}). That is the size noticed in every second trial, "
            f"which is {100 * sought.proportion:.0f} % right with guesses."
        )
    if sought.kind != "level":
        say("The size is that at the band's middle, half of it at its ends; all of it was as loud as before.")
    quieter = f"; all of it {-sought.gain_db:.1f} dB quieter, so that nothing clips" if sought.gain_db < 0 else ""
    loud = f"{sought.level_dba:.0f} dBA" if sought.level_dba is not None else "a level nobody read"
    say(f"Played by {sought.device} at {loud}{quieter}. It holds for this listener, music, chain and level.")


def _document(casebook: Casebook, kept: KeptThreshold) -> dict[str, object]:
    from ..casebook import documents
    from ..measured import own_thresholds

    return {
        "id": kept.id,
        "at": kept.at,
        "listener": catalogue.names(casebook, Listener)[kept.listener_id],
        "setup": None if kept.setup_id is None else catalogue.names(casebook, Setup)[kept.setup_id],
        "complete": kept.complete,
        "found": documents.plain(own_thresholds.found(kept)) if kept.complete else None,
        "band_hz": kept.sought.band_hz,
        "sought": documents.plain(kept.sought),
        "answers": [documents.plain(one) | {"right": one.right} for one in kept.answers] if kept.complete else None,
    }


COMMANDS = {"threshold": threshold}
