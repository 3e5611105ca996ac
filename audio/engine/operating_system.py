"""What each operating system does in its own way: precedence, ending with the application, ending a command whole."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Sequence

NICENESS = -15  # on Linux and macOS; the system refuses it to most people, and playback works without
LOOK_S = 0.1  # between two looks whether the application is still there


def take_precedence() -> None:
    """Run this process before other work, where the system lets it."""
    if sys.platform == "win32":
        import ctypes

        high = 0x80  # HIGH_PRIORITY_CLASS
        kernel = ctypes.windll.kernel32
        kernel.SetPriorityClass(kernel.GetCurrentProcess(), high)
    else:
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, NICENESS)


def leave_with(parent: int) -> None:
    """End this process when the application is gone, even where an order never returns; for a thread of its own."""
    if sys.platform == "win32":
        import ctypes

        synchronize, for_ever = 0x0010_0000, 0xFFFF_FFFF
        kernel = ctypes.windll.kernel32
        kernel.OpenProcess.restype = ctypes.c_void_p
        application = ctypes.c_void_p(kernel.OpenProcess(synchronize, False, parent))
        kernel.WaitForSingleObject(application, for_ever)  # returns at once if there is no such process any more
    else:
        while os.getppid() == parent:
            time.sleep(LOOK_S)
    os._exit(0)


def start_command(words: Sequence[str]) -> subprocess.Popen[bytes]:
    """A command started without a shell, deaf, its complaints kept; `end_command` ends it with all it started.

    Raises
    ------
    OSError
        If there is no such command, or it may not be run.
    """
    return subprocess.Popen(
        list(words),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=sys.platform != "win32",  # a group of its own, so that its children can be ended with it
    )


def end_command(command: subprocess.Popen[bytes]) -> None:
    """End a command of `start_command` at once, and what it has started."""
    if sys.platform == "win32":
        tree = ["taskkill", "/T", "/F", "/PID", str(command.pid)]
        subprocess.run(tree, stdin=subprocess.DEVNULL, capture_output=True, check=False)
    else:
        import signal

        os.killpg(command.pid, signal.SIGKILL)
