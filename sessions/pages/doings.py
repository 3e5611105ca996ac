"""What somebody may sit down for besides a plan that counts: practice, training, free listening. No web."""

from __future__ import annotations

from contextlib import AbstractContextManager

from ..casebook.store import open_casebook
from ..chair import sitting_freely, sitting_training, waiting
from ..chair.sitting import Sitting
from ..chair.sitting_down import House, practising
from ..chair.sitting_freely import Evening
from ..chair.sitting_training import Exercises
from ..errors import ListenError
from .joining import Claim


def check(house: House, claim: Claim, only: str | None = None) -> None:
    """Nothing, if it is offered here, and to this listener.

    Raises
    ------
    SessionsError
        If it is not; the message is for whoever asked.
    """
    if claim.doing not in house.offers:
        raise ListenError(f"{_words(claim)} is not offered here; choose again")
    with open_casebook(house.folder) as casebook:
        if claim.doing == "free":
            sitting_freely.check(house, casebook, claim.listener, claim.about)
        elif claim.doing == "training":
            sitting_training.check(house, casebook, claim.plan, claim.listener, claim.about)
            if only not in (None, claim.plan):
                raise ListenError(f"plan {claim.plan!r} is not offered here; choose again")
        elif claim.doing == "practice":
            there = [(one.plan, one.listener) for one in waiting.waiting(casebook, only) if not one.complete]
            if (claim.plan, claim.listener) not in there:
                raise not_awaited(claim)


def not_awaited(claim: Claim) -> ListenError:
    """What is said to somebody of whom a plan knows nothing, or has no trial left."""
    return ListenError(f"nobody called {claim.listener!r} is awaited in plan {claim.plan!r}; choose again")


def opening(house: House, claim: Claim, device: str | None) -> AbstractContextManager[Sitting]:
    """The chair of what never counts; everything of it belongs to the thread that opens it."""
    if claim.doing == "free":
        return sitting_freely.seated_freely(house, claim.listener, claim.about, device)
    if claim.doing == "training":
        return sitting_training.seated_to_train(house, claim.plan, claim.listener, claim.about, device)
    return practising(house, claim.plan, claim.listener, device)


def evening(house: House) -> Evening:
    """What free listening may be of.

    Raises
    ------
    ListenError
        If it is not offered here: names of setups are for those who may hear them by name.
    """
    if "free" not in house.offers:
        raise ListenError("free listening is not offered here")
    with open_casebook(house.folder) as casebook:
        return sitting_freely.offered(casebook, own_sound=house.own_sound)


def exercises(house: House, only: str | None) -> Exercises:
    """What can be trained.

    Raises
    ------
    ListenError
        If training is not offered here.
    """
    if "training" not in house.offers:
        raise ListenError("training is not offered here")
    with open_casebook(house.folder) as casebook:
        return sitting_training.offered(house, casebook, only)


def _words(claim: Claim) -> str:
    return "free listening" if claim.doing == "free" else claim.doing
