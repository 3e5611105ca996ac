"""What plays in a run of training: a passage as its match sheet prepared it, and with each size of an artefact."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from ..casebook.training_rows import Exercise
from ..errors import ListenError
from ..preparation import match_files
from . import threshold_sounds
from .threshold_sounds import ALTERNATIVES, PlayedAt, as_it_is

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from audio.artefacts import Artefact

DOWN, TURNS, MOST = 2, 8, 40  # two right for a step down: about seven in ten right; some five minutes, our choice


@dataclass(frozen=True, eq=False)
class TrainingSounds:
    """All that is played: float32, shape (1 + sizes, frames, channels), the unchanged one first; and what it is of."""

    sounds: NDArray[np.float32]
    sought: Exercise
    heard_at = 0
    from_start = False


def of_passage(
    casebook: Casebook,
    plan: str,
    setup: Setup,
    passage: Passage,
    artefact: Artefact,
    device: str,
    level_dba: float | None = None,
    played_at: PlayedAt = as_it_is,
) -> TrainingSounds:
    """A passage through a setup with an artefact of every size, ready to be played.

    Nothing is louder than the passage, but for what is lifted in it; where one would clip all are quieter alike.

    Raises
    ------
    CatalogueError
        If the setup lacks the track, or is gear that was not matched or stands behind an outside switch.
    ListenError
        If the passage is too short or too long, holds next to nothing of the band, or cannot be changed so.
    """
    from audio.difference_steps import difference_steps
    from audio.excitation_change import JUST_NOTICED_DB

    clip, chair_dba = threshold_sounds.clip_of(casebook, setup, passage, played_at)
    by = match_files.measure_last_used(casebook, [setup.id])
    try:
        made = difference_steps(clip, [artefact.make(size) for size in artefact.sizes], by)
    except ValueError as error:
        raise ListenError(f"{artefact.said} in passage {passage.name!r}: {error}") from error
    loud = chair_dba if level_dba is None else level_dba
    if artefact.of_band:
        changes_db = threshold_sounds.largest_change_db(made.sounds, clip.rate_hz, loud)
        if changes_db < JUST_NOTICED_DB:
            largest_said = artefact.in_words(artefact.sizes[-1])
            raise ListenError(
                f"passage {passage.name!r} holds too little there: {artefact.said}, {largest_said}, would change it by "
                f"{changes_db:.2f} dB in the ear, and nobody notices less than about {JUST_NOTICED_DB:g} dB; choose "
                "another passage or another exercise"
            )
    exercise = Exercise(
        kind="training",
        plan=plan,
        artefact=artefact.key,
        said=artefact.said,
        sizes=artefact.sizes,
        unit=artefact.unit,
        alternatives=ALTERNATIVES,
        start=artefact.start,
        down=DOWN,
        turns=TURNS,
        most=MOST,
        passage_id=passage.id,
        passage=passage.name,
        rate_hz=clip.rate_hz,
        sha256=hashlib.sha256(clip.samples.tobytes()).hexdigest(),
        by=by,
        gain_db=round(made.gain_db, 2),
        device=device,
        level_dba=loud,
    )
    return TrainingSounds(made.sounds, exercise)
