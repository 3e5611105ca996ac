from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from sessions.casebook.store import Casebook
from sessions.plans.plan_rows import Wish
from tests import stopwatch
from tests.answered_plans import PAIR

TRIALS = 200

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium with a fresh profile, one process for all tests of a module."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def evening(casebook: Casebook) -> Path:
    """A sealed ABX plan of 200 trials over tiny files, with the same keys in every run."""
    wish = Wish("abx", PAIR, listeners=("Ada",), trials=TRIALS)
    stopwatch.sealed_plan(casebook, sha256(b"bytes").digest(), wish)
    casebook.close()
    return casebook.folder
