"""`report`: one self-contained page of everything a casebook can show."""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..errors import CatalogueError
from .context import Context, give, json_option, say


@click.command()
@click.argument("units", nargs=-1, metavar="[UNIT]...")
@click.option("--unit", "--setup", "unit", help="The review of this one: its facts, curves, comparisons and words.")
@click.option("--compare", is_flag=True, help="Several units side by side: report --compare A B C.")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; otherwise report.html in the casebook."
)
@click.option("--title", help="The page's title.  [default: What was heard]")
@click.option("--no-rehearsals", is_flag=True, help="Leave rehearsals out; else they have a section of their own.")
@json_option
@click.pass_obj
def report(
    context: Context,
    units: tuple[str, ...],
    *,
    unit: str | None,
    compare: bool,
    out: Path | None,
    title: str | None,
    no_rehearsals: bool,
    as_json: bool,
) -> None:
    """Write the report: what was compared, how matched, how sealed, the trials, the verdict, the words.

    With --unit it is the review of one unit, with --compare of several side by side: first what can be read aloud, then
    the evidence, then the fine print.
    """
    names = _about(units, unit, compare=compare)
    with context.open() as casebook:
        about = [catalogue.find(casebook, Setup, name) for name in names]
        from ..report import contents

        entitled = title or _title([one.name for one in about])
        found = contents.gather(casebook, entitled, rehearsals=not no_rehearsals, units=about, meanwhile=_load_page)
        from ..report import page

        path = out or casebook.folder / f"{'-'.join(['report', *map(_in_a_file, names)])}.html"
        page.write(found, path)
    if as_json:
        give({"report": str(path)})
    say(f"The report: {path}", as_json)


def _about(units: tuple[str, ...], unit: str | None, *, compare: bool) -> tuple[str, ...]:
    """The units that the report is about; none: the whole casebook."""
    if compare and (unit or len(set(units)) < 2 or len(set(units)) != len(units)):
        raise CatalogueError("--compare sets two units and more side by side: report --compare A B")
    if units and not compare:
        raise CatalogueError(f"say --unit {shlex.quote(units[0])} for the review of one, or --compare A B for several")
    return units or ((unit,) if unit else ())


def _title(names: Sequence[str]) -> str:
    if len(names) < 2:
        return names[0] if names else "What was heard"
    return f"{', '.join(names[:-1])} and {names[-1]}, side by side"


def _in_a_file(name: str) -> str:
    return re.sub(r"[^\w.+-]+", "-", name)


def _load_page() -> None:
    from ..report import page

    page.load()


COMMANDS = {"report": report}
