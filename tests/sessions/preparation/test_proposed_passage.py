"""What is told of a track that was looked through."""

from __future__ import annotations

import numpy as np

from audio.passages import Silence, Survey
from sessions.casebook.catalogue import Track
from sessions.preparation.proposed_passage import LookedThrough


def test_a_silence_is_called_a_dropout_and_pauses_with_anothers_noise_are_told_once() -> None:
    found = (Silence("wren", 10, 12), Silence("finch", 20, 21, True), Silence("finch", 30, 31, True))
    survey = Survey((), np.zeros(0), np.zeros(0), np.zeros(0), (), found)
    dropout, pauses = LookedThrough(Track("1", "reel", "", ""), 5.0, 48_000, survey).silences
    assert dropout.startswith("wren is silent from 0:15.0 to 0:17.0, where another setup plays on (a dropout?)")
    assert pauses.startswith(
        "finch pauses from 0:25.0 to 0:26.0 and once more, where a hum or a noise of another setup"
    )
