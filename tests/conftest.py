from __future__ import annotations

import os

# before numpy is loaded: its idle threads take time from everything that shares the cores
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Iterator

import pytest
from hypothesis import settings

from audio import parallel
from audio.levels import zwicker
from sessions.casebook import user_folders
from tests.jack import Server
from tests.terminal import Terminal

settings.register_profile("tests", deadline=None)  # a busy machine is no failure
settings.load_profile("tests")


def pytest_addoption(parser: pytest.Parser) -> None:
    """The long form of measuring what could tell a key: `pytest PATH --trials 4000 --resumes 5 --real-trials 200`."""
    parser.addoption("--trials", type=int, default=400, help="trials of each method whose times are measured")
    parser.addoption("--resumes", type=int, default=1, help="how often a trial is left and resumed")
    parser.addoption("--real-trials", type=int, default=24, help="trials measured in real time")


@pytest.fixture(autouse=True, scope="session")
def one_process() -> Iterator[None]:
    """Work in this process alone: to start others takes longer than such short sounds do.

    That several come to the same is shown by `tests/sessions/plans/test_two_folders.py`, which says how many.
    """
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(parallel, "cores", lambda: 1)
        yield


@pytest.fixture(autouse=True, scope="session")
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A folder of these tests for what this user keeps: nothing is found there that others drew, and nothing left."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv(user_folders.CACHE, str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(autouse=True, scope="session")
def without_the_loudness_extra() -> Iterator[None]:
    """Sheets tell loudness by ISO 532-1 only where a test asks: its library is slow, and most installations lack it."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(zwicker, "is_installed", lambda: False)
        yield


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
