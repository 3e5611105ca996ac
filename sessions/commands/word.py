"""`word`: descriptors, logged, listed, searched."""

from __future__ import annotations

from typing import Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener, Setup, Track
from ..words import log
from .command_group import CommandGroup
from .context import Context, give, json_option, say, table
from .number_types import WHOLE
from .times import TIME, clock


@click.group(cls=CommandGroup)
def word() -> None:
    """Words: descriptors as you put them, with strength, place in the music, sighted or blind."""


@word.command("log")
@click.argument("term")
@click.option("--listener", required=True, help="Whose word it is.")
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
    term: str,
    listener: str,
    setup: str | None,
    track: str | None,
    at_s: float | None,
    as_json: bool,
    **rest: Any,
) -> None:
    """Log TERM. What was said stays; a correction is a new word that names the old one."""
    with context.open() as casebook:
        said = log.Word(
            term,
            track_ms=None if at_s is None else round(1000 * at_s),
            setup_id=catalogue.find(casebook, Setup, setup).id if setup else None,
            track_id=catalogue.find(casebook, Track, track).id if track else None,
            **rest,
        )
        known = catalogue.named(casebook, Listener, listener)
        kept = log.log(casebook, known or catalogue.new_listener(casebook, listener), said)
    if as_json:
        give({"id": kept.id, "term": kept.term, "strength": kept.strength})
    say(f"Word {kept.term!r} kept ({kept.id}).", as_json)


@word.command("list")
@click.option("--setup", help="Only words said of this setup.")
@click.option("--track", help="Only words said of this track.")
@json_option
@click.pass_obj
def list_words(context: Context, setup: str | None, track: str | None, as_json: bool) -> None:
    """List the words in force, oldest first."""
    with context.open() as casebook:
        rows = log.words(
            casebook,
            setup_id=catalogue.find(casebook, Setup, setup).id if setup else None,
            track_id=catalogue.find(casebook, Track, track).id if track else None,
        )
    _tell(rows, as_json)


@word.command("search")
@click.argument("text", nargs=-1, required=True)
@json_option
@click.pass_obj
def search_words(context: Context, text: tuple[str, ...], as_json: bool) -> None:
    """Find words by their terms and notes; word stems count (voice finds voices)."""
    with context.open() as casebook:
        rows = log.search(casebook, " ".join(text))
    _tell(rows, as_json)


def _tell(words: list[log.LoggedWord], as_json: bool) -> None:
    if as_json:
        give({"words": documents.plain(words)})
        return
    if not words:
        say("No words.")
        return
    shown = [
        [
            word.term,
            str(word.strength),
            word.setup or (f"blind, as {word.stimulus}" if word.stimulus else "-"),
            word.track or "-",
            "-" if word.track_ms is None else clock(word.track_ms / 1000),
            "blind" if word.blind else "sighted",
            word.listener,
            word.note,
        ]
        for word in words
    ]
    say(table(["word", "strength", "setup", "track", "at", "how", "listener", "note"], shown))


COMMANDS = {"word": word}
