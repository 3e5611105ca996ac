"""`report`: one self-contained page of everything a casebook can show."""

from __future__ import annotations

from pathlib import Path

import click

from .context import Context, give, json_option, say


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
    from ..report import contents, page

    with context.open() as casebook:
        path = out or casebook.folder / "report.html"
        page.write(contents.gather(casebook, title, rehearsals=not no_rehearsals), path)
    if as_json:
        give({"report": str(path)})
    say(f"The report: {path}", as_json)


COMMANDS = {"report": report}
