"""`word`: descriptors, logged one or many at a time, listed, searched, counted."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener, Setup, Track
from ..chair import word_lines
from ..errors import CatalogueError
from ..plans import words_in_trials
from ..words import lexicon_rows, log, search
from ..words.blindness import LABELS, LabelledWord
from ..words.corrections import CorrectedWords
from ..words.lexicon import ASK_WHAT_WAS_HEARD
from ..words.profile import profile
from ..words.summary import NOT_NAMED, SaidAlike, summary
from .command_group import CommandGroup
from .context import Context, decimals, give, json_option, say, table
from .number_types import WHOLE
from .plain_text import in_one_line
from .profile_lines import profile_lines
from .times import TIME, clock
from .whose_words import listener_of
from .word_prompt import About, keep, log_lines


@click.group(cls=CommandGroup, invoke_without_command=True)
@click.option("--listener", help="Whose words are typed, where it asks for them.")
@click.option("--setup", help="What they are said of.")
@click.option("--track", help="The track that plays.")
@click.pass_context
def word(ctx: click.Context, /, **about: str | None) -> None:
    """Words: descriptors as you put them, with strength and place in the music.

    Alone, at a terminal, it asks for one word after the other. In free listening (listen --free) the key r plays
    again what sounded when a word was said.
    """
    given = {name: value for name, value in about.items() if value is not None}
    if ctx.invoked_subcommand is not None:
        if given:
            option = f"--{next(iter(given))}"
            ctx.fail(f"{option} belongs behind the command: earwitness word {ctx.invoked_subcommand} … {option} NAME")
        return
    if not given and not sys.stdin.isatty():
        click.echo(ctx.get_help())
        return
    ctx.invoke(log_word, **given)


@word.command("log")
@click.argument("term", required=False)
@click.option("--listener", help="Whose word it is; the only listener there is needs no name.")
@click.option("--setup", help="What it was said of; leave it out if you did not know.")
@click.option("--track", help="The track that played.")
@click.option(
    "--at", "at_s", type=TIME, metavar="M:SS.S", help="Where in the track, by its first recording; not beyond its end."
)
@click.option("--strength", type=WHOLE, default=3, show_default=True, help="1 (a trace) to 5 (overwhelming).")
@click.option("--blind/--sighted", default=False, help="Whether you did not know what was playing.  [default: sighted]")
@click.option("--note", default="", help="Anything more.")
@click.option("--corrects", help="The word (its id) that this one replaces.")
@json_option
@click.pass_obj
def log_word(
    context: Context,
    /,
    term: str | None,
    listener: str | None,
    setup: str | None,
    track: str | None,
    at_s: float | None,
    as_json: bool,
    **rest: Any,
) -> None:
    """Log TERM, or without one each line that is typed. What was said stays; a correction is a new word that names it.

    A line is WORD [1-5] [@M:SS.S] [(note)]; .undo takes the last one back; an empty one, or q at a
    terminal, ends.
    """
    with context.open() as casebook:
        about = About(
            listener_of(casebook, listener, as_json),
            catalogue.find(casebook, Setup, setup) if setup else None,
            catalogue.find(casebook, Track, track) if track else None,
            **rest,
        )
        at_ms = None if at_s is None else round(1000 * at_s)
        words_known = lexicon_rows.in_force(casebook)
        if term is None:
            if at_s is not None or about.corrects is not None:
                raise CatalogueError("--at and --corrects belong to one word: name it, or type @M:SS.S behind each")
            kept = log_lines(casebook, about, words_known, as_json)
        else:
            said = word_lines.Typed(term, about.strength, at_ms, about.note)
            kept = [keep(casebook, about, said)]
    if as_json:
        given = [{"id": one.id, "term": one.term, "strength": one.strength} for one in kept]
        give(given[0] if term is not None else {"words": given})
    if term is not None:
        say(f"Word {kept[0].term!r} of {kept[0].listener} kept ({kept[0].id}).", as_json)
        if words_known.likes(term):
            say(f"{kept[0].term!r} {ASK_WHAT_WAS_HEARD}", as_json)


@word.command("list")
@click.option("--setup", help="Only words said of this setup.")
@click.option("--track", help="Only words said of this track.")
@click.option("--listener", help="Only words of this listener.")
@click.option("--corrected", is_flag=True, help="Also the words that were corrected or taken back.")
@json_option
@click.pass_obj
def list_words(
    context: Context,
    /,
    setup: str | None,
    track: str | None,
    listener: str | None,
    *,
    corrected: bool,
    as_json: bool,
) -> None:
    """List the words in force, oldest first.

    What sounded when a word was said is heard again in free listening: listen --free, the key r.
    """
    rows, counts, holds = _labelled(context, as_json, setup, track, listener, corrected=corrected)
    _tell(rows, as_json, holds=holds)
    if counts.in_words and not as_json:
        say(counts.in_words)


@word.command("search")
@click.argument("text", nargs=-1, required=True)
@json_option
@click.pass_obj
def search_words(context: Context, text: tuple[str, ...], as_json: bool) -> None:
    """Find words by their terms and notes; capitals, accents and forms do not count (bright finds Brighter)."""
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        found = search.matching(log.words(casebook), " ".join(text))
        rows = words_in_trials.labelled(casebook, found)
    _tell(rows, as_json, holds=holds)


@word.command("summary")
@click.option("--setup", help="Only words said of this setup.")
@click.option("--track", help="Only words said of this track.")
@click.option("--listener", help="Only words of this listener.")
@json_option
@click.pass_obj
def summarise(
    context: Context, /, setup: str | None, track: str | None, listener: str | None, *, as_json: bool
) -> None:
    """Count what was said of each setup and in each track: how often, how, by whom, when."""
    rows, corrected, holds = _labelled(context, as_json, setup, track, listener)
    found = summary(rows)
    if as_json:
        give(
            {
                "setups": {name: [_document(one) for one in said] for name, said in found.setups.items()},
                "tracks": {name: [_document(one) for one in said] for name, said in found.tracks.items()},
                "corrected": documents.plain(corrected),
                "record_holds": holds,
            }
        )
        return
    if not rows:
        say("No words.")
        return
    headings = [
        *((f"Of {name}" if name != NOT_NAMED else "Of no setup", said) for name, said in found.setups.items()),
        *((f"In {name}" if name != NOT_NAMED else "In no track", said) for name, said in found.tracks.items()),
    ]
    say("\n\n".join(f"{in_one_line(heading)}\n{_counts(said)}" for heading, said in headings))
    if corrected.in_words:
        say(f"\n{corrected.in_words}")


@word.command("profile")
@click.argument("setup")
@click.option("--listener", help="Only this listener's words, here and elsewhere.")
@json_option
@click.pass_obj
def show_profile(context: Context, setup: str, listener: str | None, as_json: bool) -> None:
    """Set the words said of SETUP against those said of all other setups so far; other names of a word count as it."""
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        own = catalogue.find(casebook, Setup, setup)
        name = catalogue.find(casebook, Listener, listener).name if listener else None
        rows = words_in_trials.labelled(casebook, log.words(casebook))
        found = profile(
            [one for one in rows if name in (None, one.word.listener)],
            own.id,
            own.name,
            lexicon_rows.in_force(casebook),
        )
    if as_json:
        give(documents.plain(found) | {"record_holds": holds})
        return
    for line in profile_lines(found):
        say(line)


def _counts(said: Sequence[SaidAlike]) -> str:
    headings = ["word", "times", *LABELS, "strength", "by", "when"]
    rows = [
        [
            one.term,
            str(one.total),
            *(str(one.times[label] or "-") for label in LABELS),
            decimals(one.strength, 1),
            ", ".join(f"{name} {times}" if len(one.by) > 1 else name for name, times in one.by.items()),
            " to ".join(dict.fromkeys(one.days)),
        ]
        for one in said
    ]
    return table([f"  {headings[0]}", *headings[1:]], [[f"  {row[0]}", *row[1:]] for row in rows])


def _document(one: SaidAlike) -> dict[str, Any]:
    return {
        "word": one.term,
        "times": one.total,
        "how": dict(one.times),
        "strength": round(one.strength, 2),
        "by": dict(one.by),
        "first": one.days[0],
        "last": one.days[1],
    }


def _labelled(
    context: Context,
    as_json: bool,
    setup: str | None,
    track: str | None,
    listener: str | None,
    *,
    corrected: bool = False,
) -> tuple[list[LabelledWord], CorrectedWords, bool]:
    """The words with their labels, of a setup also those said in trials that are over; how many were corrected; and
    whether the record holds, which is said where it does not.
    """
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        track_id = catalogue.find(casebook, Track, track).id if track else None
        wanted = catalogue.find(casebook, Setup, setup) if setup else None
        name = catalogue.find(casebook, Listener, listener).name if listener else None
        rows = words_in_trials.labelled(casebook, log.words(casebook, track_id=track_id, corrected=corrected))
        counts = CorrectedWords.of(words_in_trials.corrections(casebook))
    of = [one for one in rows if wanted is None or one.setup_id == wanted.id]
    return [one for one in of if name in (None, one.word.listener)], counts, holds


def _tell(words: list[LabelledWord], as_json: bool, *, holds: bool) -> None:
    if as_json:
        give({"words": [_told(one) for one in words], "record_holds": holds})
        return
    if not words:
        say("No words.")
        return
    remarked, noted = any(one.remark for one in words), any(one.word.note for one in words)
    shown = [
        [
            one.word.term,
            str(one.word.strength),
            one.of,
            f"{one.word.track} ({one.word.passage})" if one.word.passage else one.word.track or "-",
            "-" if one.word.track_ms is None else clock(one.word.track_ms / 1000),
            one.label,
            one.word.listener,
            one.word.id,
            *([one.word.note] if noted else []),
            *([one.remark] if remarked else []),
        ]
        for one in words
    ]
    headings = ["word", "strength", "of", "track", "at", "how", "listener", "id"]
    say(table([*headings, *(["note"] if noted else []), *(["remark"] if remarked else [])], shown))


def _told(one: LabelledWord) -> dict[str, Any]:
    """A word for programs; `of` is null where it was said of no setup, or that may not be told yet."""
    told: dict[str, Any] = documents.plain(one.word) | {"of": one.setup, "how": one.label}
    further = {"apart": one.apart, "remark": one.remark}
    return told | {name: value for name, value in further.items() if value}


COMMANDS = {"word": word}
