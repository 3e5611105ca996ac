"""A code to be filmed, with its words beside it, in this terminal; the words alone where the code cannot be drawn."""

from __future__ import annotations

import shutil
import sys
import textwrap
import threading
from collections.abc import Sequence
from dataclasses import dataclass

from ..report import qr_codes
from .context import columns, draw, say
from .plain_text import plain

APART = 3
NARROWEST_WORDS = 30
_ALONE = threading.Lock()  # several sessions may begin at once, each in a thread: what belongs together stays so
BLACK_ON_WHITE, AS_BEFORE = "\033[30;107m", "\033[0m"


@dataclass(frozen=True)
class Sheet:
    """Rows to draw: of the code (none where it has no room) and, beside or alone, of words."""

    code: list[str]
    words: list[str]

    @property
    def height(self) -> int:
        """Rows needed."""
        return max(len(self.code), len(self.words))

    @property
    def words_from(self) -> int:
        """The column at which the words begin."""
        return len(self.code[0]) + APART if self.code else 0


def sheet(words: Sequence[str], text: str, width: int, height: int, encoding: str | None) -> Sheet:
    """The words with the code of `text` beside them in a terminal of that size and encoding, or without it."""
    code = qr_codes.half_blocks(text) if _draws_blocks(encoding) else []
    beside = Sheet(code, _wrapped(words, width - len(code[0]) - APART if code else width))
    if code and len(code[0]) + APART + NARROWEST_WORDS <= width and beside.height <= height:
        return beside
    return Sheet([], _wrapped(words, width))


def tell(words: Sequence[str], text: str, to_type: str) -> None:
    """Say the words, with the code beside them if this is a terminal that can show it; below, what can be typed."""
    with _ALONE:
        if sys.stdout.isatty():
            _draw(words, text)
        else:
            for line in words:
                say(line)
        say(to_type)


def _draw(words: Sequence[str], text: str) -> None:
    size = shutil.get_terminal_size()
    drawn = sheet(words, text, columns(), size.lines - 1, sys.stdout.encoding)
    for row in range(drawn.height):
        code = (
            f"{BLACK_ON_WHITE}{drawn.code[row]}{AS_BEFORE}"
            if row < len(drawn.code)
            else " " * (drawn.words_from - APART)
        )
        said = drawn.words[row] if row < len(drawn.words) else ""
        draw(f"{code}{' ' * APART}{said}".rstrip() if drawn.code else said)


def tell_code(text: str) -> None:
    """Say the code alone, if this is a terminal that can show it."""
    if not sys.stdout.isatty() or not _draws_blocks(sys.stdout.encoding):
        return
    rows = qr_codes.half_blocks(text)
    if len(rows[0]) <= shutil.get_terminal_size().columns:
        for row in rows:
            draw(f"{BLACK_ON_WHITE}{row}{AS_BEFORE}")


def _wrapped(words: Sequence[str], width: int) -> list[str]:
    lines: list[str] = []
    for text in words:
        lines += [*textwrap.wrap(plain(text), max(NARROWEST_WORDS, width), break_on_hyphens=False), ""]
    return lines[:-1]


def _draws_blocks(encoding: str | None) -> bool:
    try:
        "▀▄█".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
