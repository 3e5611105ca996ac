"""`setup fact`: what the maker states of a setup, with where it was read."""

from __future__ import annotations

from shlex import quote

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup
from ..errors import CatalogueError
from .context import Context, give, json_option, say, table


@click.command("fact")
@click.argument("name")
@click.argument("what", required=False)
@click.argument("value", required=False)
@click.option("--read-in", default="", metavar="TEXT", help="Where it was read: the data sheet and its date, a page.")
@click.option("--no-longer", is_flag=True, help="The maker states WHAT no longer, or it was kept by mistake.")
@json_option
@click.pass_obj
def fact(
    context: Context, name: str, what: str | None, value: str | None, *, read_in: str, no_longer: bool, as_json: bool
) -> None:
    """Keep that the maker of NAME states WHAT as VALUE; without WHAT, list what is kept.

    WHAT is anything. 'nominal impedance', 'minimum impedance', 'sensitivity' and 'range' are set beside what was
    measured: earwitness curve show NAME --what facts.
    """
    from ..measured import fact_rows, stated_values

    if what and bool(value) == no_longer:
        raise CatalogueError(
            f"say the value, like: setup fact {quote(name)} {quote(what)} VALUE --read-in WHERE; or --no-longer"
        )
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, name)
        if what:
            kept_as = stated_values.name_of(what)
            if value:
                stated_values.check(kept_as, value)
            fact_rows.keep(casebook, own, kept_as, value or "", read_in)
        facts = fact_rows.of_setup(casebook, own)
    if as_json:
        give({"setup": name, "facts": documents.plain(facts)})
        return
    if what:
        said = f"states {kept_as} {value}" if value else f"no longer states {kept_as}"
        say(f"Kept: the maker of {name!r} {said}{f' ({read_in})' if read_in else ''}.")
        if value and (meant := stated_values.understood(kept_as, value)):
            say(f"Understood: {meant}.")
        say(f"Beside what was measured: {context.hint} curve show {quote(name)} --what facts")
        return
    rows = [[one.what, one.value, one.source, one.at[:10]] for one in facts]
    say(
        table(["what", "value", "read in", "kept"], rows)
        if rows
        else f"Nothing is kept of what the maker of {name!r} states."
    )
