"""The command line's entry: the table of commands, the one place where errors become one line and an exit status.

Commands are loaded when they are called, so that `earwitness --help` starts at once.
"""

from __future__ import annotations

import importlib
import importlib.util
import logging
import os
import sys
import traceback
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

INTERRUPTED, STOPPED = 130, "earwitness: stopped; what was acknowledged is kept\n"
try:
    import click

    from ..errors import SessionsError
    from . import garbage
    from .command_group import CommandGroup, whose_option
    from .context import Context, addressed, wrapped
    from .plain_text import plain
except KeyboardInterrupt:  # Ctrl-C while the command line itself is loaded
    sys.stderr.write(STOPPED)
    sys.exit(INTERRUPTED)

if TYPE_CHECKING:
    from audio.engine.recording import Recorder

DONE, BAD_INPUT = 0, 2
NO_CASEBOOK = (
    "No casebook here. With a folder of recordings for each setup, begin with:\n  earwitness compare DIR_A DIR_B\n"
    "To try it on made-up music:\n  earwitness demo\nAll commands, in the order of the job:\n  earwitness --help"
)
ROOMS = ("sessions", "audio", "stats", "demo_tracks")

# name: (module, what it does); the order is the order of the job
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "the whole job on the demo tracks, in a fresh casebook, ending in a report"),
    "compare": ("compare", "two folders of recordings to the first blind trial, in one command"),
    "new": ("catalogue", "start a casebook"),
    "status": ("status", "where am I: setups, passages, plans, what waits, the next command"),
    "setup": ("setup", "setups: add, list, show, relink"),
    "track": ("track", "tracks and their recordings: add, list, show, align"),
    "passage": ("passage", "passages: add, suggest, list, show"),
    "listener": ("catalogue", "listeners: add, list, show"),
    "edit": ("edit", "change what is not sealed: notes, routes, delays, passages, drafts"),
    "rename": ("rename", "another name for a setup, track, passage, listener or draft"),
    "remove": ("remove", "take out what is not sealed, after what goes with it was named"),
    "loudness": ("loudness", "integrated loudness, loudness range and true peak of files"),
    "match": ("match", "make a match sheet: files by loudness, real gear by microphone or voltmeter"),
    "level": ("level", "sound level: calibrate a microphone, read a listener's noise dose"),
    "giveaways": ("giveaways", "look for cues, other than the sound, that give a setup away"),
    "plan": ("plan", "design a blind test by one of ten methods; list, show, close"),
    "seal": ("seal", "fix a plan and print its seal"),
    "power": ("power", "trials needed, or power reached, for a method"),
    "listen": ("listen", "run a session in this terminal"),
    "serve": ("serve", "the chair on a phone or tablet, the desk in a browser: pages from this machine"),
    "assist": ("assist", "the page of an assistant who swaps setups by hand, or their cards"),
    "rehearse": ("rehearse", "the same with a simulated listener or as practice; never counted"),
    "train": ("train", "named artefacts on the music of a plan, with feedback; never counted"),
    "threshold": ("threshold", "the smallest change of a band, or of level, that a listener notices"),
    "hearing": ("hearing", "the highest tone that a listener notices on a chain at a quiet level; not medical"),
    "word": ("word", "log, list and search words"),
    "lexicon": ("lexicon", "what each word means, and which ones are folded into it"),
    "tally": ("tally", "the statistics for counts kept elsewhere (paper, a viewers' poll)"),
    "curve": ("curve", "measured data: add, list, show and compare, sweep"),
    "phrase": ("phrase", "the words from outside that a plan's order follows from too"),
    "verdict": ("verdict", "the result of a plan: heard, not shown, undecided or void"),
    "words": ("words", "each word of the blind ballots, over all plans; learn: which octaves go with it"),
    "crosscheck": ("crosscheck", "words beside curves: heard and measured, heard only, measured only"),
    "report": ("report", "one self-contained page: compared, matched, sealed, heard, said"),
    "stills": ("stills", "pictures for a video: curves, verdict cards, ranked words, built up in steps"),
    "claims": ("claims", "what you want to say, each sentence with its evidence and what it comes to"),
    "viewers": ("viewers", "a blind test for your audience: a page or a soundtrack; what their answers come to"),
    "witness": ("witness", "note that an end of the record, or a seal, was published"),
    "doctor": ("doctor", "what this machine can do: devices, rates, latency, a loopback self-test"),
    "verify": ("verify", "check a casebook's seals, keys and chain"),
    "export": ("export", "tables with their dictionary as CSV, JSON or Parquet; the proof bundle"),
    "pool": ("pool", "the same statistics over many casebooks, or over what they exported"),
    "merge": ("merge", "casebooks of several reviewers or sites in this one, nothing lost and nothing twice"),
    "backup": ("backup", "a consistent, checked copy of the whole casebook, also while a session runs"),
}


LONG = frozenset(
    {
        "demo",
        "compare",
        "track",
        "passage",
        "loudness",
        "match",
        "level",
        "giveaways",
        "listen",
        "serve",
        "assist",
        "rehearse",
        "train",
        "threshold",
        "hearing",
        "curve",
        "viewers",
        "doctor",
        "export",
        "pool",
        "merge",
        "backup",
    }
)
"""Commands that work long, or on much: the others take little longer than it takes to load them."""


class JobGroup(CommandGroup):
    """The commands by name, each loaded when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"sessions.commands.{COMMANDS[cmd_name][0]}")
        command = module.COMMANDS[cmd_name]
        assert isinstance(command, click.Command)
        if cmd_name in LONG:
            garbage.as_usual()
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; the casebook that was named stands in every command that its refusal tells to type."""
        from audio.errors import AudioError

        try:
            return super().invoke(ctx)
        except (SessionsError, AudioError) as error:
            error.args = (addressed(str(error)),)
            raise

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The table of commands, without loading one."""
        with formatter.section("Commands, in the order of the job"):
            formatter.write_dl([(name, what) for name, (_, what) in COMMANDS.items()])


@click.command(
    cls=JobGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option("--casebook", type=click.Path(path_type=Path), help="The casebook's folder (or EARWITNESS_CASEBOOK).")
@click.option("--debug", is_flag=True, help="Show the traceback of an error.")
@click.version_option(package_name="earwitness", prog_name="earwitness")
@click.pass_context
def earwitness(ctx: click.Context, casebook: Path | None, debug: bool) -> None:
    """Level-matched, sealed, blind listening trials, and what they show.

    Without a command: where the casebook of this folder stands, and what comes next (status).
    """
    ctx.obj = replace(ctx.ensure_object(Context), given=casebook)
    if ctx.invoked_subcommand is None:
        _tell_where_it_stands(ctx)


def _tell_where_it_stands(ctx: click.Context) -> None:
    """The state of the casebook that is named or here; where there is none, the ways to one."""
    from ..casebook.nearest_casebook import below, find

    if ctx.obj.given is None and not os.environ.get("EARWITNESS_CASEBOOK"):
        try:
            find(None, Path.cwd())
        except SessionsError as error:
            click.echo(f"{error}" if below(Path.cwd()) else NO_CASEBOOK)
            return
    command = JobGroup.get_command(earwitness, ctx, "status")
    assert command is not None
    ctx.invoke(command)


def main(arguments: list[str] | None = None, recorder: Recorder | None = None) -> None:
    """Run the command line and leave with its exit status: 0 done, 1 the answer is no, 2 bad usage or input.

    `recorder` is what plays and records instead of this machine's devices.
    """
    try:
        _run(arguments, recorder)
    except (KeyboardInterrupt, Exception) as error:
        if not _was_interrupted(error):
            raise
        sys.stderr.write(STOPPED)
        sys.exit(INTERRUPTED)


def _was_interrupted(error: BaseException | None) -> bool:
    """Whether Ctrl-C is behind it: a module that is stopped while it is loaded may end in an error of its own."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


def _run(arguments: list[str] | None, recorder: Recorder | None) -> None:
    from audio import arithmetic_threads
    from audio.errors import AudioError
    from stats.errors import StatsError

    from ..casebook import system_faults

    arithmetic_threads.keep_to_one(os.environ)  # before any command loads numpy
    arguments = sys.argv[1:] if arguments is None else arguments
    for argument in arguments:
        if any(0xD800 <= ord(letter) <= 0xDFFF for letter in argument):
            sys.exit(_refuse(f"{argument!r} is no UTF-8 text; type it anew, or rename the file that it names", False))
    debug = "--debug" in arguments

    def refused(message: str) -> int:
        return _refuse(system_faults.shortened(message, arguments), debug)

    _log_tracebacks(debug)
    try:
        _check_installation()
        with garbage.seldom():
            status = earwitness.main(
                args=arguments, prog_name="earwitness", standalone_mode=False, obj=Context(given_recorder=recorder)
            )
        sys.stdout.flush()
    except click.exceptions.Abort as error:
        if str(error):
            _complain(error)
        else:
            sys.stderr.write(STOPPED)
        status = INTERRUPTED
    except click.ClickException as error:
        status = refused(_usage(error))
    except (SessionsError, AudioError, StatsError) as error:
        status = refused(str(error))
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader left; that is no error of ours
        status = DONE
    except OSError as error:
        status = refused(system_faults.told(error))
    sys.exit(status if isinstance(status, int) else DONE)


def _log_tracebacks(debug: bool) -> None:
    """The log of what was gone on over: on stderr with `--debug`, otherwise nowhere."""
    logger = logging.getLogger("sessions")
    logger.handlers = [logging.StreamHandler()] if debug else [logging.NullHandler()]
    logger.propagate = False


def _check_installation() -> None:
    """Our rooms have generic names: make sure that no other distribution's package answers to one of them."""
    homes = {}
    for room in ROOMS:
        spec = importlib.util.find_spec(room)
        locations = list(spec.submodule_search_locations or []) if spec else []
        homes[room] = Path(locations[0]).resolve().parent if locations else None
    if len(set(homes.values())) != 1:
        where = ", ".join(f"{room} in {home}" for room, home in homes.items())
        raise SessionsError(
            f"earwitness is mixed up with another package ({where}); install it with pipx or in a fresh venv"
        )


def _usage(error: click.ClickException) -> str:
    message = error.format_message().replace("\n", " ")
    context = getattr(error, "ctx", None)
    if context is None:
        return message
    behind = whose_option(context, error.option_name) if isinstance(error, click.NoSuchOption) else []
    if behind:  # the group's own help does not tell of it
        message = f"{message.rstrip('.')} here; it belongs behind {' or '.join(behind)}"
    return f"{message} (see {' '.join([context.command_path, *behind[:1]])} --help)"


def _refuse(message: str, debug: bool) -> int:
    if debug:
        traceback.print_exc()
    _complain(message)
    return BAD_INPUT


def _complain(message: Any) -> None:
    line = plain(f"earwitness: {message}")
    print(wrapped(line) if sys.stderr.isatty() else line, file=sys.stderr)  # noqa: T201 - the command line's own voice
