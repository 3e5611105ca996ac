"""From a sealed plan to a sealed viewers' test with its sounds: what both forms share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..casebook import secret_files
from ..casebook.ids import new_id
from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import seals, viewers_rows, viewers_test
from ..plans.viewers_rows import SealedTest
from ..plans.viewers_test import Form, ViewersTest
from ..preparation import prepared_audio
from ..preparation.prepared_audio import SealedFile


@dataclass(frozen=True)
class Ready:
    """A test that is drawn up and not sealed yet: its secret is drawn, and all of its sounds are here."""

    test: ViewersTest
    secret: bytes = field(repr=False)
    sounds: Mapping[int, NDArray[np.float32]] = field(repr=False)


def drawn_up(casebook: Casebook, plan_name: str, form: Form, trials: int, further: Mapping[str, str | int]) -> Ready:
    """A viewers' test of a sealed plan.

    Raises
    ------
    PlanError
        If there is no such plan, or viewers cannot take it.
    ListenError
        If its prepared audio is missing, or not what was sealed.
    """
    sealed = seals.sealed_plan(casebook, plan_name)
    test = viewers_test.drawn_up(sealed.plan, sealed.seal, new_id("viewers"), form, trials, further)
    secret = secret_files.fresh()
    return Ready(test, secret, sounds_of(casebook, test, secret))


def sounds_of(casebook: Casebook, test: ViewersTest, secret: bytes) -> dict[int, NDArray[np.float32]]:
    """What is played of each passage that comes, by its place: shape (setups, frames, channels).

    Raises
    ------
    PlanError
        If the plan names no prepared audio.
    ListenError
        If that is missing, or not what was sealed.
    """
    found = {}
    for place in sorted({viewers_test.passage_of(test, secret, slot) for slot in range(1, test.trials + 1)}):
        passage = test.passages[place]
        if not set(test.sources) <= set(passage.audio):
            raise PlanError(f"passage {passage.name!r} was sealed without prepared audio; viewers cannot hear it")
        files = [SealedFile(passage.audio[source], passage.files.get(source)) for source in test.sources]
        sheet = test.document["match"]["sheet"]
        found[place] = prepared_audio.sounds(casebook, passage.name, files, sheet)
    return found


def seal(casebook: Casebook, ready: Ready) -> SealedTest:
    """Keep a test with its seal."""
    return viewers_rows.keep(casebook, ready.test, ready.secret)
