"""`lexicon`: the words a reviewer uses, what each means, and what is folded into it."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import click

from audio.errors import FileError

from ..casebook import documents
from ..casebook.spreadsheet_text import guarded, unguarded
from ..errors import CatalogueError
from ..words.folding import folded
from ..words.lexicon import ASK_WHAT_WAS_HEARD, COLUMNS, LANGUAGES, Entry, Lexicon, entry_of, row_of
from ..words.lexicon_changes import Change, changed, taken_out
from . import text_table
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, say, table
from .number_types import NUMBER

OWN_USE = "own use"
WHERE_IT_COUNTS = (
    "What was logged counts so in word profile, crosscheck and the report's bands; word list, search and summary show "
    "what was typed."
)
MEASURED_LEVEL = "on-axis|in-room"  # where a word with a band could show, unless somebody says otherwise


@click.group(cls=CommandGroup)
def lexicon() -> None:
    """Words for sound: what each means, its opposite, what is folded into it, what could be measured of it.

    The words come with the program; add, rename and merge them as you use them. Bands are hypotheses with their source.
    """


@lexicon.command("list")
@click.option("--family", help="Only words of this family, such as timbre or space.")
@json_option
@click.pass_obj
def list_entries(context: Context, family: str | None, as_json: bool) -> None:
    """List the headwords by family."""
    words, holds = _shown(context, as_json)
    families = sorted({entry.family for entry in words.entries.values()})
    if family and not any(_within(one, family) for one in families):
        raise CatalogueError(f"the lexicon has no family {family!r}; it has {', '.join(filter(None, families))}")
    shown = sorted(
        (one for one in words.entries.values() if not family or _within(one.family, family)),
        key=lambda one: (one.family, folded(one.word)),
    )
    if as_json:
        give({"number": words.number, "words": documents.plain(shown), "record_holds": holds})
        return
    rows = [[one.word, one.family or "-", one.opposite or "-", one.where or "-"] for one in shown]
    say(table(["word", "family", "opposite", "where it is said to lie"], rows))
    say(f"What one means: {context.hint} lexicon show WORD")


@lexicon.command("show")
@click.argument("word")
@json_option
@click.pass_obj
def show(context: Context, word: str, as_json: bool) -> None:
    """Show what WORD means (a synonym or a German, French or Spanish word will do)."""
    words, holds = _shown(context, as_json)
    entry = words.named(word)
    if as_json:
        give(documents.plain(entry) | {"record_holds": holds})
        return
    say(f"{entry.word}: {entry.definition or 'not defined yet'}")
    others = [f"{LANGUAGES[code]} {name}" for code, name in entry.translations.items()]
    for what, told in (
        ("family", entry.family),
        ("opposite", entry.opposite),
        ("also said", ", ".join(entry.synonyms)),
        ("elsewhere", ", ".join(others)),
        ("said to lie at", entry.where),
        ("could show in", ", ".join(entry.shows_in) or "nothing measurable is known for this word"),
        ("source", entry.source),
        ("in published schemes", entry.also_in),
    ):
        if told:
            say(f"  {what}: {told}")
    if entry.likes:
        say(f"  It {ASK_WHAT_WAS_HEARD}")
    if entry.where:
        say("  The band is a hypothesis to test, not a finding.")


@lexicon.command("add")
@click.argument("word")
@click.option("--means", "definition", default="", help="What it means, in your own words.")
@click.option("--family", default="", help="Such as timbre/bass, space, dynamics, defects; liking for a judgement.")
@click.option("--opposite", default="", help="The word at the other end.")
@click.option("--also", "synonyms", multiple=True, help="Another word for it (again for more).")
@click.option("--from", "low_hz", type=NUMBER, metavar="HZ", help="Lower end of the band where you expect it.")
@click.option("--to", "high_hz", type=NUMBER, metavar="HZ", help="Upper end of that band.")
@click.option("--says", type=click.Choice(["more", "less"]), help="Whether it is said of more or of less there.")
@click.option("--source", default="", help="Who says so.  [default: own use]")
@click.option("--own", is_flag=True, help="Take WORD out of the headword it is folded into: a word of its own.")
@json_option
@click.pass_obj
def add(
    context: Context,
    word: str,
    *,
    definition: str,
    family: str,
    opposite: str,
    synonyms: tuple[str, ...],
    low_hz: float | None,
    high_hz: float | None,
    says: str | None,
    source: str,
    own: bool,
    as_json: bool,
) -> None:
    """Add WORD; of one that the lexicon has, say anew what is given here."""
    there = _in_force(context)
    kept = there.entries.get(" ".join(word.split()))
    left = taken_out(there, word) if own else None
    given = {
        "word": word,
        "synonyms": "|".join([*(kept.synonyms if kept else ()), *synonyms]),
        "family": family,
        "definition": definition,
        "opposite": opposite,
        "low_hz": "" if low_hz is None else repr(low_hz),
        "high_hz": "" if high_hz is None else repr(high_hz),
        "says": says or "",
        "source": source or ("" if kept and low_hz is None and high_hz is None and says is None else OWN_USE),
        "shows_in": MEASURED_LEVEL if low_hz is not None and not (kept and kept.shows_in) else "",
    }
    entry = entry_of((row_of(kept) if kept else {}) | {name: text for name, text in given.items() if text})
    freed = [] if left is None else [Change("add", left.word, entry=left)]
    _keep(context, [*freed, Change("add", entry.word, entry=entry)])
    if as_json:
        give(documents.plain(replace(entry, own=True)))
    outside = "" if left is None else f", no longer under {left.word}"
    say(f"In the lexicon: {entry.word}{outside}.", as_json)


@lexicon.command("rename")
@click.argument("word")
@click.argument("new")
@json_option
@click.pass_obj
def rename(context: Context, word: str, new: str, as_json: bool) -> None:
    """Call the headword WORD NEW from now on, in profiles, crosschecks and bands; the log stays as it was typed."""
    after = _keep(context, [Change("rename", word, new)])
    if as_json:
        give(documents.plain(after.named(new)))
    say(f"{word} is called {after.named(new).word} now. {WHERE_IT_COUNTS}", as_json)


@lexicon.command("merge")
@click.argument("word")
@click.argument("into")
@json_option
@click.pass_obj
def merge(context: Context, word: str, into: str, as_json: bool) -> None:
    """Fold the headword WORD, with all under it, into INTO: in profiles, crosschecks, bands; the log stays as typed."""
    moved = _in_force(context).holding(word)
    after = _keep(context, [Change("merge", word, into)])
    if as_json:
        give(documents.plain(after.named(into)))
    too = f", and {', '.join(moved.synonyms)} with it" if moved and moved.synonyms else ""
    say(f"{word} counts as {after.named(into).word} now{too}. {WHERE_IT_COUNTS}", as_json)


@lexicon.command("export")
@click.option("--out", type=click.Path(path_type=Path), help="The file to write; without it the text is printed.")
@click.pass_obj
def export(context: Context, out: Path | None) -> None:
    """Write the lexicon as CSV, one headword a line, which `lexicon import` reads again."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for entry in _in_force(context).entries.values():
        writer.writerow({name: guarded(cell) for name, cell in row_of(entry).items()})
    if out is None:
        click.echo(text.getvalue(), nl=False)
        return
    if out.exists():
        raise FileError(f"{out} is there already and is not written over; name another place")
    try:
        out.write_text(text.getvalue(), encoding="utf-8")
    except OSError as error:
        raise FileError(f"cannot write {out}: {error.strerror}; name another place") from error
    say(f"Written: {out}")


@lexicon.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--as-there", is_flag=True, help="Bring words that stand here to what they are there: renames, merges, all."
)
@json_option
@click.pass_obj
def take_in(context: Context, file: Path, as_there: bool, as_json: bool) -> None:
    """Take in the words of a CSV FILE (a column 'word', others as in `lexicon export`) that this lexicon lacks.

    What stands here already stays as it is and is named, unless --as-there says otherwise; all of the rest is taken in,
    or nothing.
    """
    if as_there:
        _take_as_there(context, file, as_json)
        return
    before, taken, stayed = _in_force(context), list[Entry](), list[str]()
    after = before
    for where, cells in _rows(file):
        try:
            entry = entry_of(cells)
            names = (entry.word, *entry.synonyms, *entry.translations.values())
            kept = next(filter(None, map(after.holding, names)), None)
            if kept is not None:
                if folded(kept.word) != folded(entry.word) or replace(entry, own=kept.own) != kept:
                    stayed.append(f"{entry.word} (here: {kept.word})" if kept.word != entry.word else entry.word)
                continue
            after = changed(after, Change("add", entry.word, entry=entry))
        except CatalogueError as error:
            raise CatalogueError(f"{where}: {error}") from error
        taken.append(entry)
    if taken:
        _keep(context, [Change("add", entry.word, entry=entry) for entry in taken])
    if as_json:
        give({"added": [entry.word for entry in taken], "stayed": stayed})
    say(f"Taken in: {counted(len(taken), 'word')} of {file}.", as_json)
    if stayed:
        say(f"Here already, and left as they are (--as-there changes them): {', '.join(stayed)}", as_json)


def _take_as_there(context: Context, file: Path, as_json: bool) -> None:
    from ..words.lexicon_as_there import changes_towards

    after, made, words = _in_force(context), list[Change](), list[str]()
    for where, cells in _rows(file):
        try:
            entry = entry_of(cells)
            changes = changes_towards(after, entry)
        except CatalogueError as error:
            raise CatalogueError(f"{where}: {error}") from error
        for change in changes:
            after = changed(after, change)
        made += changes
        words += [entry.word] if changes else []
    if made:
        _keep(context, made)
    if as_json:
        give({"as_there": words})
    named = f": {', '.join(words)}" if words else ""
    say(f"As it is there: {counted(len(words), 'word')} of {file}{named}.", as_json)


def _rows(file: Path) -> list[tuple[str, dict[str, str]]]:
    """The rows of a lexicon's file, their cells as they were before they were guarded from spreadsheets.

    Raises
    ------
    CatalogueError
        If the file cannot be read, or has a column that is none of a lexicon's: what stands in it would be lost.
    """
    rows = text_table.rows(file, ["word"])
    unknown = dict.fromkeys(name for _, cells in rows for name in cells if name and name not in COLUMNS)
    if unknown:
        raise CatalogueError(
            f"the table {file} has columns that no lexicon has: {', '.join(unknown)}; name them by what they hold, or "
            f"take them out. There are {', '.join(COLUMNS)}"
        )
    return [(where, {name: unguarded(cell) for name, cell in cells.items()}) for where, cells in rows]


def _in_force(context: Context) -> Lexicon:
    from ..words import lexicon_rows

    with context.open() as casebook:
        return lexicon_rows.in_force(casebook)


def _shown(context: Context, as_json: bool) -> tuple[Lexicon, bool]:
    """The lexicon in force, and whether the record holds, which is said where it does not."""
    from ..words import lexicon_rows
    from . import kept_run_told

    with context.open() as casebook:
        return lexicon_rows.in_force(casebook), kept_run_told.tell_if_edited(casebook, as_json)


def _keep(context: Context, changes: list[Change]) -> Lexicon:
    from ..words import lexicon_rows

    with context.open() as casebook:
        return lexicon_rows.keep(casebook, changes)


def _within(family: str, wanted: str) -> bool:
    own, asked = folded(family), folded(wanted)
    return own == asked or own.startswith(f"{asked}/")


COMMANDS = {"lexicon": lexicon}
