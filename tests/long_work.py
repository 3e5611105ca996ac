"""Jobs that a test has a desk's worker do: plain data, found by name in the other process."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from sessions.desk.works import Outcome, Tell
from sessions.errors import CatalogueError


@dataclass(frozen=True)
class Tells:
    """Tells a step and gives the number of the process that did it."""

    title, place = "Telling", "/desk/passages"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Tell."""
        tell("a step …")
        return Outcome((str(os.getpid()), str(folder)), "/desk")


@dataclass(frozen=True)
class Fails:
    """Cannot be done, with a sentence; or dies where it stands."""

    dies: bool = False

    title, place = "Failing", "/desk/passages"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Fail."""
        if self.dies:
            os._exit(9)
        raise CatalogueError("no folder nowhere; name another")


@dataclass(frozen=True)
class Waits:
    """Writes that it began, then takes longer than any test."""

    title, place = "Waiting", "/desk/passages"

    def run(self, folder: Path, tell: Tell) -> Outcome:
        """Wait."""
        tell("waiting")
        time.sleep(600)
        return Outcome()
