from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.jack import Server


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """A fresh JACK dummy server, the only one that PortAudio finds."""
    running = Server()
    for name, value in running.environment.items():
        monkeypatch.setenv(name, value)
    running.start()
    yield running
    running.stop()
