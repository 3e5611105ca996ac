"""`word`: descriptors, logged one or many at a time, listed, searched, counted."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..plans import words_in_trials
from ..words import lexicon_rows, log, search
from ..words.blindness import LABELS, SAID_TO_BE_BLIND, SIGHTED, LabelledWord
from ..words.corrections import CorrectedWords
from ..words.lexicon import ASK_WHAT_WAS_HEARD, Lexicon
from ..words.profile import profile
from ..words.summary import NOT_NAMED, SaidAlike, summary
from . import word_lines
from .command_group import CommandGroup
from .context import Context, counted, decimals, give, json_option, say, table
from .number_types import WHOLE
from .plain_text import in_one_line
from .profile_lines import profile_lines
from .times import TIME, clock
from .whose_words import listener_of

ABOUT = ".setup NAME, .track NAME, .blind and .sighted say what the next ones are about"


@dataclass(frozen=True)
class _About:
    """Whose the next words are, what they are of, and how they are said."""

    listener: Listener
    setup: Setup | None
    track: Track | None
    blind: bool
    strength: int
    note: str = ""
    corrects: str | None = None

    @property
    def words(self) -> str:
        """The same for people."""
        of = f"of {self.setup.name}" if self.setup else "of no setup"
        where = f", in {self.track.name}" if self.track else ""
        return f"{self.listener.name}, {of}{where}, {SAID_TO_BE_BLIND if self.blind else SIGHTED}"


@click.group(cls=CommandGroup, invoke_without_command=True)
@click.pass_context
def word(ctx: click.Context) -> None:
    """Words: descriptors as you put them, with strength and place in the music.

    Alone, at a terminal, it asks for one word after the other.
    """
    if ctx.invoked_subcommand is not None:
        return
    if not sys.stdin.isatty():
        click.echo(ctx.get_help())
        return
    ctx.invoke(log_word)


@word.command("log")
@click.argument("term", required=False)
@click.option("--listener", help="Whose word it is; the only listener there is needs no name.")
@click.option("--setup", help="What it was said of; leave it out if you did not know.")
@click.option("--track", help="The track that played.")
@click.option("--at", "at_s", type=TIME, metavar="M:SS.S", help="Where in the track.")
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

    A line is WORD [1-5] [@M:SS.S] [(note)]; an empty one ends.
    """
    with context.open() as casebook:
        about = _About(
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
            kept = _log_lines(casebook, about, words_known, as_json)
        else:
            said = word_lines.Typed(term, about.strength, at_ms, about.note)
            kept = [_keep(casebook, about, said)]
    if as_json:
        given = [{"id": one.id, "term": one.term, "strength": one.strength} for one in kept]
        give(given[0] if term is not None else {"words": given})
    if term is not None:
        say(f"Word {kept[0].term!r} of {kept[0].listener} kept ({kept[0].id}).", as_json)
        if words_known.likes(term):
            say(f"{kept[0].term!r} {ASK_WHAT_WAS_HEARD}", as_json)


def _keep(casebook: Casebook, about: _About, said: word_lines.Typed) -> log.LoggedWord:
    made = log.Word(
        said.term,
        said.strength,
        said.track_ms,
        about.blind,
        said.note or about.note,
        about.setup.id if about.setup else None,
        about.track.id if about.track else None,
        corrects=about.corrects,
    )
    return log.log(casebook, about.listener, made)


def _log_lines(casebook: Casebook, about: _About, words_known: Lexicon, as_json: bool) -> list[log.LoggedWord]:
    """Keep a word for each line until an empty one or the end; at a terminal a wrong line may be typed again."""
    asked = sys.stdin.isatty()
    if asked:
        say(f"Words of {about.words}. A line each: {word_lines.SHAPE}; {ABOUT}; an empty line ends.", as_json)
    kept: list[log.LoggedWord] = []
    number = 0
    while True:
        line = _typed_line("word: " if asked else "", as_json)
        number += 1
        if not line:
            break
        try:
            if line.startswith("."):
                about = _turned(casebook, about, line)
                say(f"  {about.words}", as_json)
                continue
            kept.append(_keep(casebook, about, word_lines.typed(line, about.strength)))
        except CatalogueError as error:
            if not asked:
                before = f"; {counted(len(kept), 'word')} before it kept" if kept else ""
                raise CatalogueError(f"line {number}: {error}{before}") from error
            say(f"  not kept: {error}", as_json)
            continue
        say(f"  kept: {in_one_line(kept[-1].term)}, {kept[-1].strength} ({kept[-1].id})", as_json)
        if words_known.likes(kept[-1].term):
            say(f"  {in_one_line(kept[-1].term)!r} {ASK_WHAT_WAS_HEARD}", as_json)
    say(f"{counted(len(kept), 'word')} of {about.listener.name} kept.", as_json)
    return kept


def _typed_line(prompt: str, as_json: bool) -> str:
    """The next line without spaces at its ends; empty at the end of what is typed."""
    click.echo(prompt, nl=False, err=as_json)
    return sys.stdin.readline().strip()


def _turned(casebook: Casebook, about: _About, line: str) -> _About:
    """What the next words are about, after a line with a point before it."""
    what, _, name = line[1:].partition(" ")
    name = name.strip().strip("'\"")
    if what in ("blind", "sighted") and not name:
        return replace(about, blind=what == "blind")
    if what == "setup":
        return replace(about, setup=catalogue.find(casebook, Setup, name) if name else None)
    if what == "track":
        return replace(about, track=catalogue.find(casebook, Track, name) if name else None)
    raise CatalogueError(f"{line!r} says nothing that is known here; {ABOUT}")


@word.command("list")
@click.option("--setup", help="Only words said of this setup.")
@click.option("--track", help="Only words said of this track.")
@click.option("--corrected", is_flag=True, help="Also the words that were corrected.")
@json_option
@click.pass_obj
def list_words(context: Context, setup: str | None, track: str | None, corrected: bool, as_json: bool) -> None:
    """List the words in force, oldest first."""
    rows, counts = _labelled(context, setup, track, corrected)
    _tell(rows, as_json)
    if counts.words and not as_json:
        say(counts.in_words)


@word.command("search")
@click.argument("text", nargs=-1, required=True)
@json_option
@click.pass_obj
def search_words(context: Context, text: tuple[str, ...], as_json: bool) -> None:
    """Find words by their terms and notes; capitals, accents and forms do not count (bright finds Brighter)."""
    with context.open() as casebook:
        found = search.matching(log.words(casebook), " ".join(text))
        rows = words_in_trials.labelled(casebook, found)
    _tell(rows, as_json)


@word.command("summary")
@click.option("--setup", help="Only words said of this setup.")
@click.option("--track", help="Only words said of this track.")
@json_option
@click.pass_obj
def summarise(context: Context, setup: str | None, track: str | None, as_json: bool) -> None:
    """Count what was said of each setup and in each track: how often, how, by whom, when."""
    rows, corrected = _labelled(context, setup, track)
    found = summary(rows)
    if as_json:
        give(
            {
                "setups": {name: [_document(one) for one in said] for name, said in found.setups.items()},
                "tracks": {name: [_document(one) for one in said] for name, said in found.tracks.items()},
                "corrected": documents.plain(corrected),
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
    if corrected.words:
        say(f"\n{corrected.in_words}")


@word.command("profile")
@click.argument("setup")
@click.option("--listener", help="Only this listener's words, here and elsewhere.")
@json_option
@click.pass_obj
def show_profile(context: Context, setup: str, listener: str | None, as_json: bool) -> None:
    """Set the words said of SETUP against those said of all other setups so far; other names of a word count as it."""
    with context.open() as casebook:
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
        give(documents.plain(found))
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
    context: Context, setup: str | None, track: str | None, corrected: bool = False
) -> tuple[list[LabelledWord], CorrectedWords]:
    """The words with their labels, of a setup also those said in trials that are over; and how many were corrected."""
    with context.open() as casebook:
        track_id = catalogue.find(casebook, Track, track).id if track else None
        wanted = catalogue.find(casebook, Setup, setup) if setup else None
        rows = words_in_trials.labelled(casebook, log.words(casebook, track_id=track_id, corrected=corrected))
        counts = CorrectedWords.of(words_in_trials.corrections(casebook))
    return [one for one in rows if wanted is None or one.setup_id == wanted.id], counts


def _tell(words: list[LabelledWord], as_json: bool) -> None:
    if as_json:
        give({"words": [_told(one) for one in words]})
        return
    if not words:
        say("No words.")
        return
    remarked = any(one.remark for one in words)
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
            one.word.note,
            *([one.remark] if remarked else []),
        ]
        for one in words
    ]
    headings = ["word", "strength", "of", "track", "at", "how", "listener", "id", "note"]
    say(table([*headings, *(["remark"] if remarked else [])], shown))


def _told(one: LabelledWord) -> dict[str, Any]:
    """A word for programs; `of` is null where it was said of no setup, or that may not be told yet."""
    told: dict[str, Any] = documents.plain(one.word) | {"of": one.setup, "how": one.label}
    further = {"apart": one.apart, "remark": one.remark}
    return told | {name: value for name, value in further.items() if value}


COMMANDS = {"word": word}
