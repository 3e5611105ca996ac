"""What every command needs: the casebook it works in, and a voice for people and for programs."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook import private_files
from ..casebook.nearest_casebook import find
from ..casebook.store import Casebook, open_casebook
from .plain_text import UNSEEN, in_one_line, plain

if TYPE_CHECKING:
    from audio.engine.recording import Recorder


NOT_PRIVATE = (
    "This file system cannot keep the casebook from others who use this machine: whoever they are, they can read its "
    "secrets. Keep the folder on a drive that can, or to yourself."
)
WIDEST = 100  # columns in which sentences are still read with ease
COMMAND = re.compile(
    r"""(?:(?P<lead>:|\bsee)[ ]|^)(?P<words>earwitness[ ](?:'[^']*'|"[^"]*"|[^'"])+?)
        (?:$|\.$|[;,][ ]|\.[ ](?=[A-Z])|[ ](?=\())""",
    re.VERBOSE,
)
COLUMNS = re.compile(r"\S  +\S")
LAST_GAP = re.compile(r".*\S  +(?=\S)")
DEEPEST = 24  # columns by which what is broken off a row of columns is set in at most
MARGIN = 2  # columns by which a table may be set in
WITHOUT_CASEBOOK = ("demo", "compare", "new", "loudness", "power", "tally", "pool", "doctor")


@dataclass(frozen=True)
class Context:
    """The options given before the command's name, and what records where a command plays and listens.

    `is_private` says whether the system keeps a file from other users; not every file system can.
    """

    given: Path | None = None
    given_recorder: Recorder | None = None
    is_private: Callable[[Path], bool] = private_files.is_private

    def open(self) -> Casebook:
        """The casebook to work in (a context manager)."""
        return open_casebook(find(self.given, Path.cwd()))

    @property
    def recorder(self) -> Recorder:
        """What plays signals and records: this machine's devices, unless another was given."""
        from audio.engine.recorder import DeviceRecorder

        return self.given_recorder or DeviceRecorder()

    @property
    def hint(self) -> str:
        """How a next command must name the casebook: with an option, or not at all."""
        return f"earwitness --casebook {shlex.quote(str(self.given))}" if self.given else "earwitness"


def json_option(function: Any) -> Any:
    """Adds ``--json``: one document on stdout, people's text on stderr."""
    return click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")(function)


def say(text: str, as_json: bool = False, *, whole: bool = False) -> None:
    """A line for people: on stdout, or on stderr where stdout belongs to a JSON document.

    On a terminal sentences are broken between words, unless the line is to stay `whole`; in a pipe nothing is broken.
    What a terminal would obey is written out.
    """
    stream, said = sys.stderr if as_json else sys.stdout, plain(addressed(text))
    click.echo(wrapped(said) if stream.isatty() and not whole else said, err=as_json)


def confirmed(question: str, *, default: bool, as_json: bool) -> bool:
    """The answer to a question of yes or no; asked again, with what can be typed, until it is one."""

    def yes_or_no(text: str) -> bool:
        answer = text.strip().casefold()
        if answer not in ("y", "yes", "n", "no"):
            raise click.UsageError("type y for yes or n for no")
        return answer.startswith("y")

    shown = f"{plain(question)} [{'Y/n' if default else 'y/N'}]"
    usual = "y" if default else "n"
    return bool(click.prompt(shown, default=usual, show_default=False, value_proc=yes_or_no, err=as_json))


def draw(text: str, as_json: bool = False) -> None:
    """A line of our own that a terminal is to obey: colours of a code that is filmed. Never with words of others."""
    click.echo(text, err=as_json)


def addressed(text: str) -> str:
    """The text with the casebook named in every command that it tells to type, where one was named to this one."""
    here = click.get_current_context(silent=True)
    root = here and here.find_root()
    if not (root and isinstance(root.obj, Context) and root.obj.given and isinstance(root.command, click.Group)):
        return text
    hint = root.obj.hint
    names = "|".join(name for name in root.command.list_commands(root) if name not in WITHOUT_CASEBOOK)
    return re.sub(rf"\bearwitness (?=(?:{names})\b)", lambda _: f"{hint} ", text)


def columns() -> int:
    """How wide sentences are in this terminal."""
    return min(WIDEST, shutil.get_terminal_size().columns)


def wrapped(text: str) -> str:
    """Text as it stands in this terminal: sentences and rows of columns broken between words, drawings as they are.

    What is broken off a row of columns is set in, below its last column where that is not far. A command to type
    ends its line, whole, so that it can be copied; where it has no room, or more is said after it, it has a line alone.
    """
    return "\n".join(row for line in text.split("\n") for row in _rows(line))


def _rows(line: str) -> list[str]:
    width, said = columns(), line.lstrip(" ")
    indent = line[: len(line) - len(said)]
    command = COMMAND.search(said)
    columns_before = COLUMNS.search(said if command is None else said[: command.start("words")]) is not None
    if len(line) <= width and (command is None or columns_before or command.end("words") == len(said)):
        return [line]
    if command is None:
        return _broken(said, width, indent, _hanging(line, len(indent)) if columns_before else indent)
    before, rest = said[: max(command.end("lead"), 0)], said[command.end() :]
    told = [*(_rows(f"{indent}{before}") if before else []), f"{indent}{command['words']}"]
    return [*told, *(_rows(f"{indent}{rest}") if rest else [])]


def _hanging(line: str, indented: int) -> str:
    """What is set before the rest of a row of columns."""
    gap = LAST_GAP.match(line)
    return " " * (len(gap[0]) if gap and len(gap[0]) <= DEEPEST else indented + 4)


def _broken(said: str, width: int, indent: str, after: str) -> list[str]:
    return textwrap.wrap(
        said,
        width,
        initial_indent=indent,
        subsequent_indent=after,
        break_long_words=False,
        break_on_hyphens=False,
    )


def give(document: Any) -> None:
    """One JSON document on stdout."""
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    click.echo(UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text))  # JSON itself leaves some of them raw


def progress(text: str) -> None:
    """A passing word on long work; quiet in a pipe."""
    if sys.stderr.isatty():
        click.echo(wrapped(plain(text)), err=True)


def decimals(value: float | None, places: int, missing: str = "-") -> str:
    """A number as people read it; what is rounded to 0 has no sign.

    >>> decimals(-0.004, 2), decimals(-0.006, 2), decimals(None, 2)
    ('0.00', '-0.01', '-')
    """
    return missing if value is None else f"{round(value, places) + 0.0:.{places}f}"


def counted(number: int, what: str) -> str:
    """So many of something, in the singular for one.

    >>> counted(1, "trial"), counted(2, "trial")
    ('1 trial', '2 trials')
    """
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def table(headings: list[str], rows: list[list[str]]) -> str:
    """Columns as wide as their widest entry, two spaces apart; each row is one line.

    On a terminal that is narrower the widest columns are broken between words, so that every column stays under its
    heading; where that does not do, rows are left as they are.
    """
    cells = [[*map(in_one_line, row)] for row in [headings, *rows]]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    if sys.stdout.isatty():
        widths = _narrowed(widths, [_narrowest(column) for column in zip(*cells, strict=True)], columns() - MARGIN)
    return "\n".join(line for row in cells for line in _row_lines(row, widths))


def fits(headings: list[str], rows: list[list[str]]) -> bool:
    """Whether a table stands here with no cell broken; in a pipe it always does."""
    widths = [max(len(in_one_line(cell)) for cell in column) for column in zip(headings, *rows, strict=True)]
    return not sys.stdout.isatty() or sum(widths) + 2 * (len(widths) - 1) <= columns() - MARGIN


def _narrowest(column: Sequence[str]) -> int:
    """The longest word of a column, which is never broken."""
    return max(len(cell) - len(cell.lstrip()) + max(map(len, cell.split()), default=0) for cell in column)


def _narrowed(widths: list[int], least: list[int], most: int) -> list[int]:
    """Widths with which a row fits, taken from the widest columns; as they were where no words let it."""
    found, spare = list(widths), 2 * (len(widths) - 1)
    while sum(found) + spare > most:
        place = max(range(len(found)), key=lambda n: (found[n] > least[n], found[n]))
        if found[place] <= least[place]:
            return widths
        found[place] -= 1
    return found


def _row_lines(row: Sequence[str], widths: Sequence[int]) -> list[str]:
    """A row on as many lines as its longest cell takes; a cell's indent stands before each of its lines."""
    broken = []
    for cell, width in zip(row, widths, strict=True):
        indent = cell[: len(cell) - len(cell.lstrip())]
        kept = textwrap.wrap(
            cell, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False, drop_whitespace=True
        ) if len(cell) > width else [cell]  # fmt: skip
        broken.append(kept)
    lines = zip_longest(*broken, fillvalue="")
    return ["  ".join(part.ljust(width) for part, width in zip(line, widths, strict=True)).rstrip() for line in lines]
