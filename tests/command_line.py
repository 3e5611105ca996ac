"""The command line in the test's own process: the same entry as the console script's, with what it says."""

from __future__ import annotations

import io
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from audio import parallel
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
    """Run a command on a casebook; `recorder` plays and records in place of this machine's devices.

    It works in this process alone, since to start others takes longer than such short sounds do; that several come to
    the same is shown by `tests/sessions/plans/test_two_folders.py`.
    """
    out, err = io.StringIO(), io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patched,
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as left,
    ):
        patched.setattr(parallel, "cores", lambda: 1)
        main(["--casebook", str(book), *arguments], recorder)
    assert isinstance(left.value.code, int)
    return Done(left.value.code, out.getvalue(), err.getvalue())
