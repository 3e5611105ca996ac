"""The operator's desk: whose casebook it is, what long work is under way, and on what is played."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from ..plans.plan import Plan
from .works import Works


@dataclass(frozen=True)
class Office:
    """What every page of the desk works with.

    Attributes
    ----------
    device
        On what plans are played; None: the system's.
    own_sound
        Whether listeners' browsers play.
    check_own_sound
        Nothing, if they can play a plan.
    seconds
        The second secrets that were typed for sessions since the pages were opened, by plan; in memory alone.
    """

    folder: Path
    works: Works
    device: str | None = None
    own_sound: bool = False
    check_own_sound: Callable[[Plan], None] = lambda plan: None
    seconds: dict[str, str] = field(default_factory=dict)

    @property
    def hint(self) -> str:
        """How a command that is typed names the casebook."""
        return f"earwitness --casebook {shlex.quote(str(self.folder.resolve()))}"
