"""Text that a terminal shows and does not obey: names, words, paths and cells may hold what was never typed here."""

from __future__ import annotations

import re

# ISO/IEC 6429 controls (but the line feed and the tab), Unicode's marks of direction and separators of lines (UAX #9),
# and what is left of bytes that were no UTF-8
COMMANDS = "\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f"
UNSEEN = re.compile(f"[{COMMANDS}\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")


def plain(text: str) -> str:
    r"""The text with every character written out that a terminal would obey or hide.

    >>> plain("red \x1b[31mhorn"), plain("caf\udce9"), plain("two\nlines")
    ('red \\x1b[31mhorn', 'caf\\udce9', 'two\nlines')
    """
    return UNSEEN.sub(_written, text)


def in_one_line(text: str) -> str:
    r"""The same, and no new line either: for a cell of a table, a name in a sentence.

    >>> in_one_line("two\nlines")
    'two\\nlines'
    """
    return plain(text).replace("\n", "\\n").replace("\t", "\\t")


def _written(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"
