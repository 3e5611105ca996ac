"""`words`: what words came to."""

from __future__ import annotations

import click

from .command_group import CommandGroup
from .words_learn import learn


@click.group(cls=CommandGroup)
def words() -> None:
    """Words over all setups: what this listener's use of each goes with."""


words.add_command(learn)
COMMANDS = {"words": words}
