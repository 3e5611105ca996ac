"""How often garbage is looked for: seldom in a command that is mostly loaded, as usual in one that works long."""

from __future__ import annotations

import gc

import click
import pytest

from sessions.casebook.store import Casebook
from sessions.commands import garbage
from sessions.commands.main import COMMANDS, LONG, earwitness
from tests.sessions.commands.test_commands import run


@pytest.mark.parametrize(("name", "first"), [("verify", garbage.SELDOM), ("loudness", garbage.USUAL[0])])
def test_garbage_is_looked_for_seldom_only_in_short_commands(name: str, first: int) -> None:
    with garbage.seldom():
        assert isinstance(earwitness, click.Group)
        assert earwitness.get_command(click.Context(earwitness), name) is not None
        assert gc.get_threshold()[0] == first


def test_every_long_command_is_one() -> None:
    assert set(COMMANDS) > LONG


def test_garbage_is_looked_for_as_before_once_a_report_is_made(casebook: Casebook) -> None:
    casebook.close()
    before = gc.get_threshold()
    run("--casebook", str(casebook.folder), "report")
    assert gc.get_threshold() == before
