"""Numbers on the command line: as people type them, with a range where one is needed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NoReturn

import click

from audio.typed_numbers import number, whole

LONGEST = 40  # letters of a typed number that are shown again
Fail = Callable[[str, click.Parameter | None, click.Context | None], NoReturn]


class Whole(click.types.IntParamType):
    """A whole number."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number that was typed."""
        return super().convert(_read(value, whole, self.fail, param, ctx), param, ctx)


class WholeRange(click.IntRange):
    """A whole number between two others."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number that was typed."""
        return super().convert(_read(value, whole, self.fail, param, ctx), param, ctx)


class Number(click.types.FloatParamType):
    """A number."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number that was typed."""
        return super().convert(_read(value, number, self.fail, param, ctx), param, ctx)


class NumberRange(click.FloatRange):
    """A number between two others."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number that was typed."""
        return super().convert(_read(value, number, self.fail, param, ctx), param, ctx)


def _read(
    value: Any,
    reader: Callable[[str], float | int | None],
    fail: Fail,
    param: click.Parameter | None,
    ctx: click.Context | None,
) -> Any:
    """What is read of a typed text; a default is a number already."""
    if not isinstance(value, str):
        return value
    read = reader(value)
    if read is None:
        shown = value if len(value) <= LONGEST else f"{value[:LONGEST]}…"
        fail(f"{shown!r} is no {'whole number' if reader is whole else 'number'}", param, ctx)
    return read


WHOLE, NUMBER = Whole(), Number()
