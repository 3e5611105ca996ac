"""`remove`: take out what is not sealed, after what goes with it was named."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..plans import catalogue_edits, dependents
from ..plans.dependents import Dependents
from .command_group import CommandGroup
from .context import Context, confirmed, give, json_option, say

yes_option = click.option("--yes", is_flag=True, help="Do it without being asked.")


@click.group(cls=CommandGroup)
def remove() -> None:
    """Take a setup, track, recording, passage, listener or draft out; files are left where they are."""


def _take(context: Context, what: str, yes: bool, as_json: bool, find: Callable[[Casebook], Dependents]) -> None:
    with context.open() as casebook:
        found = find(casebook)
        done = agreed(f"Remove {what}?", found.sentences, yes, as_json)
        if done:
            catalogue_edits.remove(casebook, found)
    _tell(what, found.sentences, done, as_json)


def agreed(question: str, sentences: list[str], yes: bool, as_json: bool) -> bool:
    """Whether to go on: at once where nothing depends on it, otherwise after it was named and agreed to.

    Raises
    ------
    CatalogueError
        If nobody is there to be asked.
    """
    if not sentences or yes:
        return True
    if not sys.stdin.isatty():
        raise CatalogueError(f"{question} With it goes: {'; '.join(sentences)}. To do it, add --yes")
    say("With it goes:", as_json)
    for line in sentences:
        say(f"  {line}", as_json)
    return confirmed(question, default=False, as_json=as_json)


def _tell(what: str, sentences: list[str], done: bool, as_json: bool) -> None:
    if as_json:
        give({"what": what, "removed": done, "with_it": sentences if done else []})
    if done:
        say(f"Removed: {'; '.join([what, *sentences])}.", as_json)
        return
    say("Nothing was removed.", as_json)
    sys.exit(1)


def _add_kind(kind: type[Any], of: Callable[[Casebook, Any], Dependents], help_text: str) -> None:
    what = kind.__name__.lower()

    @remove.command(what, help=help_text)
    @click.argument("name")
    @yes_option
    @json_option
    @click.pass_obj
    def remove_entry(context: Context, name: str, yes: bool, as_json: bool) -> None:
        def find(casebook: Casebook) -> Dependents:
            return of(casebook, catalogue.find(casebook, kind, name))

        _take(context, f"{what} {name!r}", yes, as_json, find)


_add_kind(Setup, dependents.of_setup, "Take out a setup with its recordings.")
_add_kind(Track, dependents.of_track, "Take out a track with its recordings and passages.")
_add_kind(Passage, dependents.of_passage, "Take out a passage.")
_add_kind(Listener, dependents.of_listener, "Take out a listener who has not listened yet.")


@remove.command("recording")
@click.argument("track")
@click.option("--setup", help="Whose recording of TRACK; without it, the music itself.")
@yes_option
@json_option
@click.pass_obj
def remove_recording(context: Context, track: str, setup: str | None, yes: bool, as_json: bool) -> None:
    """Take out one setup's recording of TRACK (or its music), to add another file in its place."""

    def find(casebook: Casebook) -> Dependents:
        whose = None if setup is None else catalogue.find(casebook, Setup, setup)
        return dependents.of_recording(casebook, whose, catalogue.find(casebook, Track, track))

    what = f"the music of {track!r}" if setup is None else f"the recording of {track!r} by {setup!r}"
    _take(context, what, yes, as_json, find)


@remove.command("draft")
@click.argument("name")
@json_option
@click.pass_obj
def remove_draft(context: Context, name: str, as_json: bool) -> None:
    """Take out a draft; a sealed plan stays, and is closed when it is given up."""
    with context.open() as casebook:
        casebook.delete_draft(catalogue_edits.unsealed(casebook, name).name)
    _tell(f"draft {name!r}", [], True, as_json)


COMMANDS = {"remove": remove}
