from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from sessions.casebook.store import Casebook
from sessions.plans.plan_rows import Wish
from tests import stopwatch
from tests.answered_plans import PAIR
from tests.browsers import phone

TRIALS = 200


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A phone with nothing on it; whatever goes wrong in its scripts fails the test."""
    with phone(chromium) as opened:
        yield opened


@pytest.fixture
def evening(casebook: Casebook) -> Path:
    """A sealed ABX plan of 200 trials over tiny files, with the same keys in every run."""
    wish = Wish("abx", PAIR, listeners=("Ada",), trials=TRIALS)
    stopwatch.sealed_plan(casebook, sha256(b"bytes").digest(), wish)
    casebook.close()
    return casebook.folder
