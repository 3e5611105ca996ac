"""Ctrl-C while the program starts: one line and an exit status, wherever it is by then."""

from __future__ import annotations

import subprocess
import sys

import pytest

START = """
import sys


class Presses:
    def find_spec(self, name, path=None, target=None):
        if name == sys.argv[1]:
            if sys.argv[2] == "plainly":
                raise KeyboardInterrupt
            try:
                raise KeyboardInterrupt
            except KeyboardInterrupt as error:
                raise RuntimeError("stopped while it was loaded") from error


sys.meta_path.insert(0, Presses())
from sessions.commands.main import main
main(["--casebook", "none", "power", "abx", "--trials", "16", "--effect", "0.7"])
"""


@pytest.mark.parametrize(
    ("module", "how"),
    [
        ("click", "plainly"),
        ("sessions.commands.context", "plainly"),
        ("audio.errors", "plainly"),
        ("sessions.commands.power", "plainly"),
        ("sessions.commands.power", "by an error"),
        ("audio.errors", "by an error"),
    ],
)
def test_ctrl_c_while_a_module_is_loaded_ends_in_one_line(module: str, how: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", START, module, how], capture_output=True, text=True, check=False, timeout=60
    )
    assert (
        done.stderr.lstrip("\n") == "earwitness: stopped; what was acknowledged is kept\n"
    )  # click ends the line of ^C
    assert (done.returncode, done.stdout) == (130, "")
