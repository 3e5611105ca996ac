"""A listener sits down to train before a plan: casebook, run and player are opened, and left as they should be."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Passage
from ..casebook.store import Casebook
from ..errors import ListenError
from ..listening import threshold_listening, threshold_run, training_ground, training_sounds
from ..listening.training_ground import Ground
from . import waiting
from .asked import Choice
from .sitting_down import BUSY_TIMEOUT_MS, SYSTEMS, House, opened, own_player, when_free
from .training_chair import TrainingChair

if TYPE_CHECKING:
    from audio.artefacts import Artefact


@dataclass(frozen=True)
class TrainedFor:
    """A plan that can be trained for: its listeners and its passages, by name."""

    plan: str
    listeners: tuple[str, ...]
    passages: tuple[str, ...]


@dataclass(frozen=True)
class Exercises:
    """What can be trained, and for which plans."""

    plans: tuple[TrainedFor, ...]
    artefacts: tuple[Choice, ...]


def offered(house: House, casebook: Casebook, only: str | None = None) -> Exercises:
    """What can be trained: for plans that wait, and for drafts; of one plan where only that is offered.

    Drafts are told where setups may be named, too: a draft is nobody's affair but the operator's.
    """
    from audio.artefacts import ARTEFACTS

    plans = [
        TrainedFor(one.plan, one.listeners, tuple(it.name for it in one.passages))
        for one in _grounds(house, casebook, only)
    ]
    return Exercises(tuple(plans), tuple(Choice(one.key, one.said) for one in ARTEFACTS))


def _grounds(house: House, casebook: Casebook, only: str | None = None) -> list[Ground]:
    names = dict.fromkeys(one.plan for one in waiting.waiting(casebook, only) if not one.complete)
    grounds = [training_ground.of(casebook, name) for name in names]
    if "free" in house.offers:
        grounds += [one for one in training_ground.drafts(casebook) if only in (None, one.plan)]
    return grounds


def check(
    house: House, casebook: Casebook, plan: str, listener: str, about: tuple[str, ...]
) -> tuple[Ground, Passage, Artefact]:
    """On what it is trained, if somebody of this name can train so here; `about`: artefact and passage, by name.

    Raises
    ------
    SessionsError
        If they cannot; the message says why.
    """
    from audio import artefacts

    ground = next((one for one in _grounds(house, casebook) if one.plan == plan), None)
    if ground is None:
        raise ListenError(f"plan {plan!r} is not trained for here; choose again")
    artefact = artefacts.named(about[0]) if about else None
    if artefact is None:
        raise ListenError(f"no exercise {' '.join(about[:1])!r}; choose again")
    if listener not in ground.listeners:
        raise ListenError(f"{listener!r} is no listener of plan {plan!r}; choose again")
    if house.own_sound and ground.setup.is_real:
        raise ListenError("real gear plays where it stands; a browser cannot play it")
    return ground, ground.passage(about[1] if len(about) > 1 else ""), artefact


@contextmanager
def seated_to_train(
    house: House, plan: str, listener: str, about: tuple[str, ...], device: str | None
) -> Iterator[TrainingChair]:
    """A listener's training. All of it belongs to the thread that opens it.

    Raises
    ------
    SessionsError, AudioError
        If it cannot be begun here and now.
    """
    with opened(house) as casebook, ExitStack() as open_things:
        ground, passage, artefact = check(house, casebook, plan, listener, about)
        chains, told = [ground.setup.chain], device or SYSTEMS

        def played_at(rate_hz: int) -> int:
            return house.rates(chains, device, {rate_hz})[rate_hz]

        sounds = training_sounds.of_passage(
            casebook, ground.plan, ground.setup, passage, artefact, told, house.level_dba, played_at
        )
        person = catalogue.find(casebook, Listener, listener)
        run = open_things.enter_context(threshold_run.begin(casebook, person, ground.setup, sounds.sought, anew=True))
        casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
        player = open_things.enter_context(house.open_player(chains, device, None))
        listening = threshold_listening.ThresholdListening(
            run, player, sounds, monotonic=house.monotonic, sleep=house.sleep
        )
        try:
            yield TrainingChair(
                listening, run, device=told, monotonic=house.monotonic, browser=own_player(house, player)
            )
        finally:
            listening.leave()
            when_free(house, listening.write_out)
            if not run.over:
                when_free(house, partial(run.mark, "stopped"))
