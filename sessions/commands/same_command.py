"""The command that was typed, to be typed again, as it was or without some of its options. Nothing is run here."""

from __future__ import annotations

import shlex
from collections.abc import Collection

import click
from click.core import ParameterSource


def typed_again(context: click.Context, left_out: Collection[str] = ()) -> str:
    """The command of a context with what was given to it, but for the options of some names (`as_json`)."""
    words = ["earwitness", *context.command_path.split()[1:]]
    for given in context.command.params:
        if given.name is None or given.name in left_out:
            continue
        if context.get_parameter_source(given.name) is not ParameterSource.COMMANDLINE:
            continue
        value = context.params[given.name]
        option = [max(given.opts, key=len)] if isinstance(given, click.Option) else []
        if isinstance(value, bool):
            words += option
        else:
            words += [word for one in (value if isinstance(value, tuple) else (value,)) for word in (*option, _of(one))]
    return shlex.join(words)


def _of(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def taken_up_by() -> str:
    """What takes up the run that this very command began: the same without --anew, which would begin another one."""
    return typed_again(click.get_current_context(), ("anew", "as_json"))
