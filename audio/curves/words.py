"""Words on a picture broken into lines and shortened, with what belongs together kept together. Pure."""

from __future__ import annotations

import re
import textwrap

UNITS = ("Hz", "kHz", "dB", "dBFS", "V", "mV", "µV", "W", "m", "ms", "s", "ohm", "%")
OF_A_NUMBER = re.compile(
    rf"(?<=\d) (?=(?:{'|'.join(UNITS)})\b|%)|(?<=\bdB) (?=SPL\b)|(?<=±) (?=\d)|(?<=above|below) (?=0\b)"
)
NO_BREAK = "\u00a0"  # which `textwrap` keeps: it breaks at the blanks of ASCII alone
LEAST_KEPT = 0.3  # of a line that is shortened: nearer to its beginning no whole part ends, but a word does; our choice


def wrap(words: str, letters: int) -> list[str]:
    """Lines of at most so many letters; no line ends between a number and its unit, unless both are longer than that.

    >>> wrap("a gate of 8 ms; 10 dB to a decade", 19)
    ['a gate of 8 ms;', '10 dB to a decade']
    """
    joined = OF_A_NUMBER.sub(NO_BREAK, words).split(" ")
    able = " ".join(one if len(one) <= letters else one.replace(NO_BREAK, " ") for one in joined)
    too_long = any(len(one) > letters for one in able.split(" "))  # then better a break at a hyphen than anywhere
    broken = textwrap.wrap(able, letters, break_on_hyphens=too_long)
    return [line.replace(NO_BREAK, " ") for line in broken]


def shortened(line: str, letters: int) -> str:
    """The beginning of a line, of at most so many letters: whole parts (between semicolons), or else whole words.

    >>> shortened("2 m; gate 6 ms; measured 2026-05-02", 30)
    '2 m; gate 6 ms'
    """
    if len(line) <= letters:
        return line.rstrip(" ;,")
    begun = OF_A_NUMBER.sub(NO_BREAK, line)[: letters + 1]
    for end in (";", " "):
        found = begun.rfind(end)
        if found >= (LEAST_KEPT * letters if end == ";" else 1):
            return begun[:found].replace(NO_BREAK, " ").rstrip(" ;,")
    return line[:letters].rstrip(" ;,")
