"""Answer codes: what one viewer's page says in some letters, to be pasted anywhere; found again in any text. Pure.

A code is ``EW1`` and 24 letters and digits (Crockford's base 32, which has no I, L, O and U, in groups of four): eleven
bytes and their CRC-32 (ISO/IEC 13239). The bytes are, from the highest bit down: the test's tag 18, a number drawn at
random 24, disturbed 1, inexact 1, sides 1, device 3, turn 4, files 12, answers 24. Two viewers who answer alike have
different codes by the number drawn, so that a code that comes twice was sent twice.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from .viewers_test import MOST_TRIALS, ViewersTest, order_of

PREFIX = "EW1"
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 24
PAYLOAD_BYTES = 11
FEWEST = 8  # letters behind the prefix from which on it can be a code that broke
DEVICES = (
    "not told",
    "headphones or earphones on a cable",
    "wireless headphones or earphones",
    "loudspeakers",
    "the speakers of a phone, tablet, laptop or television",
)
# bits of each part, from the highest down
PARTS = (("tag", 18), ("drawn", 24), ("disturbed", 1), ("inexact", 1), ("sides", 1), ("device", 3), ("turn", 4))
FILE_BITS, ANSWER_BITS = MOST_TRIALS, 2 * MOST_TRIALS

_VALUES = {letter: value for value, letter in enumerate(LETTERS)}
_BETWEEN = r"[\s\-\u2010-\u2015\u2212\u00ad\u200b]*"
_FOUND = re.compile(
    rf"(?<![0-9A-Za-z]){PREFIX}(?=((?:{_BETWEEN}[0-9A-TV-Za-tv-z]){{{FEWEST},{LENGTH}}}))", re.IGNORECASE
)
# What broke is told from words about codes by its form: two groups of four, or one long run
_BROKEN = re.compile(r"(?:\W?[0-9A-Z]{4}(?![0-9A-Z])){2}|\W?[0-9A-Z]{12}", re.IGNORECASE)
_STRAY = re.compile(r"[^0-9A-Za-z]+")


@dataclass(frozen=True)
class Answered:
    """What one code says.

    Attributes
    ----------
    drawn
        The number that tells it from codes of the same answers.
    disturbed
        A trial was offered again because its sound was disturbed.
    inexact
        The browser did not play the files to the bit.
    sides
        Left and right were not heard where they should be.
    device
        The place in `DEVICES`.
    order
        From 1.
    answers
        0 or 1 for each trial, in the order heard.
    """

    drawn: int
    disturbed: bool
    inexact: bool
    sides: bool
    device: int
    order: int
    answers: tuple[int, ...]


@dataclass(frozen=True)
class Collected:
    """The codes of a text: those of the test, each once; and how many were left out, and why."""

    codes: dict[str, Answered]
    broken: int = 0
    repeated: int = 0
    of_others: int = 0


def collect(texts: Iterable[str], test: ViewersTest, tag: int) -> Collected:
    """All codes of one test in some texts."""
    codes: dict[str, Answered] = {}
    broken = repeated = others = 0
    for text in texts:
        past = 0  # where the last whole code ends: what looks like a code within it is none
        for start, end, letters in found(text):
            if start < past:
                continue
            payload = decoded(letters)
            past = past if payload is None else end
            if letters in codes:
                repeated += 1
                continue
            if payload is None:
                broken += 1
                continue
            if payload >> (8 * PAYLOAD_BYTES - 18) != tag:
                others += 1
                continue
            answered = meaning(payload, test)
            if answered is None:
                broken += 1
                continue
            codes[letters] = answered
    return Collected(codes, broken, repeated, others)


def of_kept(text: str, test: ViewersTest) -> Collected:
    """The codes that were counted when a test was ended: their letters, a line each."""
    codes = {}
    for letters in text.split():
        payload = decoded(letters)
        answered = None if payload is None else meaning(payload, test)
        if answered is not None:
            codes[letters] = answered
    return Collected(codes)


def found(text: str) -> Iterator[tuple[int, int, str]]:
    """What stands in a text as a code, whole or broken: where, and its letters in capitals, O as 0, I and L as 1."""
    for one in _FOUND.finditer(text):
        letters = _STRAY.sub("", one[1]).upper()
        if len(letters) < LENGTH and not _BROKEN.match(one[1]):
            continue
        yield one.start(), one.end(1), letters.replace("O", "0").replace("I", "1").replace("L", "1")


def decoded(letters: str) -> int | None:
    """The eleven bytes of a code as a number; None where it is broken."""
    if len(letters) != LENGTH:
        return None
    number = 0
    for letter in letters:
        number = number << 5 | _VALUES[letter]
    payload, check = number >> 32, number & 0xFFFFFFFF
    return payload if zlib.crc32(payload.to_bytes(PAYLOAD_BYTES, "big")) == check else None


def meaning(payload: int, test: ViewersTest) -> Answered | None:
    """What the eleven bytes say of a test; None where no page of it makes such a code."""
    said = payload & (1 << ANSWER_BITS) - 1
    files = payload >> ANSWER_BITS & (1 << FILE_BITS) - 1
    rest = payload >> (ANSWER_BITS + FILE_BITS)
    parts = {}
    for name, bits in reversed(PARTS):
        parts[name] = rest & (1 << bits) - 1
        rest >>= bits
    answers = [(said >> (ANSWER_BITS - 2 * trial - 2) & 3) - 1 for trial in range(MOST_TRIALS)]
    own, beyond = answers[: test.trials], answers[test.trials :]
    fits = parts["turn"] < test.trials and not files >> test.trials and parts["device"] < len(DEVICES)
    if not fits or any(one not in (0, 1) for one in own) or any(one != -1 for one in beyond):
        return None
    return Answered(
        parts["drawn"],
        bool(parts["disturbed"]),
        bool(parts["inexact"]),
        bool(parts["sides"]),
        parts["device"],
        order_of(test.trials, parts["turn"], files),
        tuple(own),
    )


def code(tag: int, trials: int, answered: Answered) -> str:
    """The code that a page makes of what was answered."""
    turn, files = divmod(answered.order - 1, 1 << trials)
    values = (tag, answered.drawn, answered.disturbed, answered.inexact, answered.sides, answered.device, turn)
    number = 0
    for (_, bits), value in zip(PARTS, values, strict=True):
        number = number << bits | int(value)
    number = number << FILE_BITS | files
    for trial in range(MOST_TRIALS):
        number = number << 2 | (answered.answers[trial] + 1 if trial < trials else 0)
    whole = number << 32 | zlib.crc32(number.to_bytes(PAYLOAD_BYTES, "big"))
    letters = "".join(LETTERS[whole >> 5 * (LENGTH - 1 - place) & 31] for place in range(LENGTH))
    return "-".join([PREFIX, *(letters[at : at + 4] for at in range(0, LENGTH, 4))])
