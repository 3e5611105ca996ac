"""`report`: one self-contained page of everything a casebook can show."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from .context import Context, give, json_option, say

SELDOM = 100_000  # more objects made than gone, before garbage is looked for: some 10 MB of pictures


@click.command()
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; otherwise report.html in the casebook."
)
@click.option("--title", default="What was heard", show_default=True, help="The page's title.")
@click.option("--no-rehearsals", is_flag=True, help="Leave rehearsals out; else they have a section of their own.")
@json_option
@click.pass_obj
def report(context: Context, out: Path | None, title: str, no_rehearsals: bool, as_json: bool) -> None:
    """Write the report: what was compared, how matched, how sealed, the trials, the verdict, the words."""
    with _seldom_collected(), context.open() as casebook:
        from ..report import contents

        found = contents.gather(casebook, title, rehearsals=not no_rehearsals, meanwhile=_load_page)
        from ..report import page

        path = out or casebook.folder / "report.html"
        page.write(found, path)
    if as_json:
        give({"report": str(path)})
    say(f"The report: {path}", as_json)


def _load_page() -> None:
    from ..report import page

    page.load()


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """Garbage looked for seldom, and not at the end of the program: each time all that was loaded is gone through."""
    usual = gc.get_threshold()
    atexit.register(gc.freeze)
    gc.set_threshold(SELDOM, *usual[1:])
    try:
        yield
    finally:
        gc.freeze()
        gc.unfreeze()  # all is old now, so that it is not gone through at once
        gc.set_threshold(*usual)


COMMANDS = {"report": report}
