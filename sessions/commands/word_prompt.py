"""Words typed one after the other at a prompt, a line each; a line with a point before it says what they are about."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup, Track
from ..casebook.store import Casebook
from ..chair import word_lines
from ..errors import CatalogueError
from ..words import log
from ..words.blindness import SAID_TO_BE_BLIND, SIGHTED
from ..words.lexicon import ASK_WHAT_WAS_HEARD, Lexicon
from .context import counted, say
from .plain_text import in_one_line

UNDO = ".undo"
HELP = ("?", ".help")
TAKES_BACK = f"{UNDO} takes the last word back"
ABOUT = ".setup NAME, .track NAME, .blind and .sighted say what the next ones are about"


@dataclass(frozen=True)
class About:
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


def keep(casebook: Casebook, about: About, said: word_lines.Typed) -> log.LoggedWord:
    """Keep a word of whom, and of what, the words are about."""
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


def log_lines(casebook: Casebook, about: About, words_known: Lexicon, as_json: bool) -> list[log.LoggedWord]:
    """Keep a word for each line until an empty one, q or the end; at a terminal a wrong line may be typed again."""
    asked = sys.stdin.isatty()
    if asked:
        say(
            f"Words of {about.words}. A line each: {word_lines.SHAPE}, strength {about.strength} where none is typed; "
            f"{ABOUT}; {TAKES_BACK}; ? shows how; q or an empty line ends.",
            as_json,
        )
    kept: list[log.LoggedWord] = []
    number = 0
    while True:
        line = _typed_line("word: " if asked else "", as_json)
        number += 1
        if not line or (asked and line.casefold() == "q"):
            break
        try:
            if line in HELP:
                say(_help(about), as_json)
                continue
            if line == UNDO:
                say(f"  {_taken_back(casebook, about.listener, kept)}", as_json)
                continue
            if line.startswith("."):
                about = _turned(casebook, about, line)
                say(f"  {about.words}", as_json)
                continue
            said = word_lines.typed(line, about.strength)
            if said.track_ms is not None and about.track is None:
                raise CatalogueError(
                    "the place is of no track; type .track NAME before (or --track), or leave out the @"
                )
            kept.append(keep(casebook, about, said))
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


def _help(about: About) -> str:
    """What can be typed at the prompt, with an example of each."""
    rows = (
        ("bright", f"a word, of strength {about.strength}"),
        ("bright 4", "with its strength: 1 (a trace) to 5 (overwhelming)"),
        ("bright 4 @1:02.5", "and where: M:SS, by the track's first recording"),
        ("bright 4 @1:02.5 (hats)", "and a note"),
        (".setup NAME", "what the next words are of; alone: of no setup"),
        (".track NAME", "the track that plays; alone: none"),
        (".blind, .sighted", "whether you do not know what plays, or know it"),
        (UNDO, "takes the last word back"),
        ("q, an empty line", "ends"),
    )
    return "\n".join([f"  Now: {about.words}.", *(f"  {typed:<25}{says}" for typed, says in rows)])


def _typed_line(prompt: str, as_json: bool) -> str:
    """The next line without spaces at its ends; empty at the end of what is typed."""
    click.echo(prompt, nl=False, err=as_json)
    return sys.stdin.readline().strip()


def _turned(casebook: Casebook, about: About, line: str) -> About:
    """What the next words are about, after a line with a point before it."""
    what, _, name = line[1:].partition(" ")
    name = name.strip().strip("'\"")
    if what in ("blind", "sighted") and not name:
        return replace(about, blind=what == "blind")
    if what == "setup":
        return replace(about, setup=catalogue.find(casebook, Setup, name) if name else None)
    if what == "track":
        return replace(about, track=catalogue.find(casebook, Track, name) if name else None)
    raise CatalogueError(f"{line!r} says nothing that is known here; {ABOUT}; {TAKES_BACK}")


def _taken_back(casebook: Casebook, listener: Listener, kept: list[log.LoggedWord]) -> str:
    """Take the last of the words kept here back, in the record too; what was, in words."""
    if not kept:
        return (
            "nothing to take back: no word is kept here; one of before is replaced with: earwitness word log TERM "
            "--corrects ID"
        )
    last = kept.pop()
    casebook.append_many([log.new_taking_back(listener, last.id, last.strength)])
    return f"taken back: {in_one_line(last.term)}, {last.strength} ({last.id})"
