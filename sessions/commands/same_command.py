"""The command that was typed, to be typed again without some of its options. Nothing is run here."""

from __future__ import annotations

import shlex
from collections.abc import Collection

import click
from click.core import ParameterSource


def typed_again(context: click.Context, left_out: Collection[str]) -> str:
    """The command of a context with the options that were given to it, but for those of some names (`as_json`)."""
    words = ["earwitness", *context.command_path.split()[1:]]
    for option in context.command.params:
        if option.name is None or option.name in left_out or not isinstance(option, click.Option):
            continue
        if context.get_parameter_source(option.name) is not ParameterSource.COMMANDLINE:
            continue
        value = context.params[option.name]
        words.append(max(option.opts, key=len))
        if not option.is_flag:
            words.append(f"{value:g}" if isinstance(value, float) else str(value))
    return shlex.join(words)


def taken_up_by() -> str:
    """What takes up the run that this very command began: the same without --anew, which would begin another one."""
    return typed_again(click.get_current_context(), ("anew", "as_json"))
