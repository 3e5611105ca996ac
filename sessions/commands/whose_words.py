"""Whose words they are: the listener who is named, or the only one there is; somebody new is asked about, not made."""

from __future__ import annotations

import sys
from shlex import quote

import click

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.last_active import last_active
from ..casebook.near_names import unknown
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import confirmed
from .plain_text import plain


def listener_of(casebook: Casebook, name: str | None, as_json: bool = False) -> Listener:
    """The listener whose words are logged; one who is new is not kept yet.

    Without a name it is the casebook's only listener. Where there are several, or none, whoever types is asked at a
    terminal.

    Raises
    ------
    CatalogueError
        If nobody can be asked, or a new name is not wanted; the message lists the listeners there are.
    """
    if name is not None:
        return catalogue.named(casebook, Listener, name) or _new(casebook, name, as_json)
    there = [one.name for one in catalogue.everything(casebook, Listener)]
    if len(there) == 1:
        return catalogue.find(casebook, Listener, there[0])
    if not sys.stdin.isatty():
        listed = (
            f"there are {', '.join(there)}" if there else "there is none yet; add one: earwitness listener add NAME"
        )
        raise CatalogueError(f"say whose words they are with --listener NAME: {listed}")
    whose = f"Whose words are they ({', '.join(there)})?" if there else "Whose words are they?"
    last = last_active(casebook)
    typed = str(click.prompt(plain(whose), default=last, err=as_json)).strip()
    known = catalogue.named(casebook, Listener, typed)
    if known is None and not there:
        return catalogue.new_listener(casebook, typed)  # who is asked for a first name means it
    return known or _new(casebook, typed, as_json)


def _new(casebook: Casebook, name: str, as_json: bool) -> Listener:
    new = catalogue.new_listener(casebook, name)
    there = [one.name for one in catalogue.everything(casebook, Listener)]
    refusal = unknown("listener", name, there, " in this casebook")
    question = f"{refusal[0].upper()}{refusal[1:]}. Add {name!r} as a new listener?"
    if sys.stdin.isatty() and confirmed(question, default=False, as_json=as_json):
        return new
    raise CatalogueError(f"{refusal}; somebody new is added with: earwitness listener add {quote(name)}")
