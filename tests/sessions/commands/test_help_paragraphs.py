"""The help of a group of commands fills its lines, as wide as the terminal is."""

from __future__ import annotations

import inspect
from itertools import pairwise
from pathlib import Path

import click
import pytest

from sessions.commands import main
from sessions.commands.command_group import CommandGroup
from tests.command_line import earwitness

WIDE = 80  # columns
GROUPS = ("threshold", "words")  # those with a paragraph longer than a line of its source


@pytest.mark.parametrize("name", GROUPS)
def test_a_line_of_a_paragraph_ends_where_the_next_word_has_no_room(name: str) -> None:
    group = main.earwitness.get_command(click.Context(main.earwitness), name)
    assert isinstance(group, CommandGroup)
    formatter = click.HelpFormatter(width=WIDE)
    group.format_help_text(click.Context(group), formatter)
    lines = formatter.getvalue().splitlines()
    paragraphs = " ".join("\n".join(lines).split())
    assert paragraphs == " ".join(inspect.cleandoc(group.help or "").split())
    broken = [(line, after) for line, after in pairwise(lines) if line and after]
    assert broken
    for line, after in broken:
        assert len(line) <= WIDE
        assert len(line) + 1 + len(after.split()[0]) > WIDE


@pytest.mark.parametrize("name", ["claims", "stills", "viewers"])
def test_a_group_without_a_command_prints_its_help_as_it_is_laid_out(tmp_path: Path, name: str) -> None:
    asked, bare = earwitness(tmp_path, name, "--help"), earwitness(tmp_path, name)
    assert (bare.returncode, bare.stdout) == (2, "")
    assert bare.stderr == asked.stdout
    assert len(bare.stderr.splitlines()) > 8
