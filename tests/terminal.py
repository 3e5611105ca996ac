"""A real terminal for tests: tmux shows what a person would see and takes the keys they would press."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import time
from pathlib import Path


class Terminal:
    """A tmux session of its own, 100 columns wide unless another width is asked for."""

    def __init__(self, name: str, width: int = 100, height: int = 24) -> None:
        self.name, self.runs = name, 0
        self.size = ["-x", str(width), "-y", str(height)]

    @property
    def base(self) -> list[str]:
        return ["tmux", "-L", f"{self.name}-{self.runs}"]

    def run(self, command: str) -> None:
        """Run a command in a terminal of its own; a server that is still ending cannot take a new session."""
        self.close()
        self.runs += 1
        shown = f"{command}; left=$?; echo; echo left with $left; sleep 600"
        subprocess.run([*self.base, "new-session", "-d", *self.size, shown], check=True)

    def screen(self) -> str:
        done = subprocess.run([*self.base, "capture-pane", "-p", "-J"], capture_output=True, text=True, check=True)
        return done.stdout

    def history(self) -> str:
        """All that the terminal holds, scrolled away or not; a line that the terminal had to break is one."""
        shown = [*self.base, "capture-pane", "-p", "-J", "-S", "-"]
        return subprocess.run(shown, capture_output=True, text=True, check=True).stdout

    def keys(self, *keys: str) -> None:
        for key in keys:
            subprocess.run([*self.base, "send-keys", key], check=True)
            time.sleep(0.15)

    def type(self, text: str) -> None:
        """Type a text at once, as a hasty hand or a held key does."""
        subprocess.run([*self.base, "send-keys", "-l", text], check=True)

    def wait(self, pattern: str, seconds: float = 20.0) -> str:
        give_up = time.monotonic() + seconds
        while not re.search(pattern, screen := self.screen()):
            assert time.monotonic() < give_up, f"no {pattern!r} on the screen:\n{screen}"
            time.sleep(0.05)
        return screen

    def close(self) -> None:
        subprocess.run([*self.base, "kill-server"], check=False, capture_output=True)


def command(book: Path, *arguments: str) -> str:
    """The command line on a casebook, as it is typed."""
    executable = str(Path(sys.executable).with_name("earwitness"))
    return shlex.join([executable, "--casebook", str(book), *arguments])


def listen_on_screen(terminal: Terminal, book: Path, plan: str = "evening") -> str:
    """Listen to a plan as Ada, past the page that shows the end of the record; what that page said."""
    terminal.run(command(book, "listen", plan, "--listener", "Ada"))
    shown = terminal.wait("press a key to go on")
    terminal.keys("Space")
    return shown


def answer_on_screen(terminal: Terminal, trial: int, choice: str, trials: int = 8) -> None:
    """Answer one of so many trials; if the machine stumbled and disturbed it, answer it again when it comes back."""
    terminal.wait(rf"trial {trial} of {trials}")
    for _ in range(10):
        try:
            if "keeps being disturbed" in terminal.screen():
                terminal.keys("Enter")
                terminal.wait("hear    s: from the start", 10)
            terminal.keys("a", "x")
            terminal.wait(r"▲ on", 5)
            terminal.keys("Enter")
            terminal.wait("Your answer", 3)
            terminal.keys(choice)
            terminal.wait("How sure", 3)
            terminal.keys("3")
            screen = terminal.wait(rf"trial {trial + 1} of {trials}|left with|The sound was disturbed", 5)
        except AssertionError:
            if "left with" in terminal.screen():  # a busy machine took longer to end
                return
            terminal.keys("Escape")
            continue
        if "The sound was disturbed" not in screen:
            return
    raise AssertionError(f"trial {trial} was disturbed every time:\n{terminal.screen()}")
