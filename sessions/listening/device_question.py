"""Whether what a plan will be played on takes it, asked before it is sealed; in records, for whoever tells it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from ..plans.plan import Plan
from . import players


@dataclass(frozen=True)
class RefusedRates:
    """The rates that a plan was prepared at and those that all its devices take, in Hz, where these do not hold."""

    wanted: frozenset[int]
    taken: frozenset[int]

    @property
    def in_words(self) -> str:
        """What the device does not play, and what it does."""
        return refused(self.wanted, self.taken)


def refused_rates(made: Plan, device: str | None) -> RefusedRates | None:
    """The rates of a plan that its devices refuse; None if they take all. Whatever it is switched by is there too.

    Raises
    ------
    NoDeviceError
        If nobody can be asked here.
    DeviceError, ListenError
        As for `players.rates_hz`, or if a switch is not there.
    """
    taken = players.rates_hz(made, device)
    for setup in made.setups:
        if setup.chain is not None:
            players.check_switch(setup.chain)
    wanted = frozenset(passage.rate_hz for passage in made.passages)
    return None if wanted <= taken else RefusedRates(wanted, taken)


def refused(wanted_hz: Collection[int], taken_hz: Collection[int]) -> str:
    """What a device does not play, and what it does."""
    rates = ", ".join(map(str, sorted(set(wanted_hz) - set(taken_hz))))
    return (
        f"the device does not play {rates} Hz (it takes: {', '.join(map(str, sorted(taken_hz))) or 'no common rate'})"
    )
