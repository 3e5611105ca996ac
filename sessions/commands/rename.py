"""`rename`: another name for what is not sealed."""

from __future__ import annotations

from typing import Any

import click

from ..casebook import catalogue
from ..plans import catalogue_edits
from .command_group import CommandGroup
from .context import Context, give, json_option, say


@click.group(cls=CommandGroup)
def rename() -> None:
    """Give a setup, track, passage, listener or draft another name."""


def _add_kind(kind: type[Any]) -> None:
    what = kind.__name__.lower()

    @rename.command(what, help=f"Give a {what} another name; drafts that name it follow.")
    @click.argument("old")
    @click.argument("new")
    @json_option
    @click.pass_obj
    def rename_entry(context: Context, old: str, new: str, as_json: bool) -> None:
        with context.open() as casebook:
            drafts = catalogue_edits.rename(casebook, catalogue.find(casebook, kind, old), new)
        _tell(what, old, new, as_json, drafts)


for _kind in catalogue.TABLES:
    _add_kind(_kind)


@rename.command("draft")
@click.argument("old")
@click.argument("new")
@json_option
@click.pass_obj
def rename_draft(context: Context, old: str, new: str, as_json: bool) -> None:
    """Give a draft another name."""
    with context.open() as casebook:
        catalogue_edits.rename_draft(casebook, old, new)
    _tell("draft", old, new, as_json, [])


def _tell(what: str, old: str, new: str, as_json: bool, drafts: list[str]) -> None:
    if as_json:
        give({what: new, "was": old, "drafts": drafts})
    too = f"; so do the drafts {', '.join(drafts)}" if drafts else ""
    say(f"{what.capitalize()} {old!r} is called {new!r} now{too}.", as_json)


COMMANDS = {"rename": rename}
