from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from sessions.plans.plan_rows import Wish
from tests import stopwatch
from tests.answered_plans import PAIR

TRIALS = 200


@pytest.fixture
def evening(casebook: Casebook) -> Path:
    """A sealed ABX plan of 200 trials over tiny files, with the same keys in every run."""
    wish = Wish("abx", PAIR, listeners=("Ada",), trials=TRIALS)
    stopwatch.sealed_plan(casebook, sha256(b"bytes").digest(), wish)
    casebook.close()
    return casebook.folder
