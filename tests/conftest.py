from __future__ import annotations

import os

# before numpy is loaded: its idle threads take time from everything that shares the cores
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.jack import Server
from tests.terminal import Terminal

settings.register_profile("tests", deadline=None)  # a busy machine is no failure
settings.load_profile("tests")


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """A fresh JACK dummy server, the only one that PortAudio finds."""
    running = Server()
    for name, value in running.environment.items():
        monkeypatch.setenv(name, value)
    running.start()
    yield running
    running.stop()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A terminal to type into."""
    opened = Terminal(f"earwitness-test-{os.getpid()}")
    yield opened
    opened.close()
