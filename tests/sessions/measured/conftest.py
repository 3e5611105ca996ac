from __future__ import annotations

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook


@pytest.fixture
def sallow(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "sallow")


@pytest.fixture
def bracken(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "bracken")
