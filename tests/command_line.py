"""The command line in the test's own process: the same entry as the console script's, with what it says."""

from __future__ import annotations

import io
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from audio.engine.recording import Recorder
from sessions.commands.main import main


class Keyboard(io.StringIO):
    """What somebody types at a terminal."""

    def isatty(self) -> bool:
        """Always."""
        return True


@dataclass(frozen=True)
class Done:
    """What a command said, and its exit status."""

    returncode: int
    stdout: str
    stderr: str


def earwitness(book: Path, *arguments: str, recorder: Recorder | None = None) -> Done:
    """Run a command on a casebook; `recorder` plays and records in place of this machine's devices."""
    out, err = io.StringIO(), io.StringIO()
    with (
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as left,
    ):
        main(["--casebook", str(book), *arguments], recorder)
    assert isinstance(left.value.code, int)
    return Done(left.value.code, out.getvalue(), err.getvalue())
