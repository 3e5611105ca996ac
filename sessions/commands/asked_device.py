"""What a plan will be played on, asked before it is sealed: afterwards nothing about it can be changed.

A machine without any sound device is told once, and left to prepare and to seal.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Sequence
from shlex import quote

from audio.errors import DeviceError, NoDeviceError

from ..casebook.playback_chain import PlaybackChain
from ..casebook.store import Casebook
from ..errors import PlanError
from ..listening import device_question, players
from ..listening.device_question import RefusedRates
from ..listening.device_question import refused as told_refused
from ..plans import playable
from ..plans.next_steps import Step, is_of_files
from ..plans.plan import Plan
from ..plans.standings import PlanStanding
from .context import progress, say

CHANNELS = 2  # of what is played from files
NOT_ASKED = "No device was asked whether it plays this: there is none here now. listen asks before it begins."


def fitted(casebook: Casebook, made: Plan, device: str | None, as_json: bool) -> Plan:
    """A draft that can be played: as it is, or with its files prepared again at a rate that the device takes.

    Raises
    ------
    DeviceError
        If the device is missing, lacks the channels, or takes no rate of what is read at a fixed one.
    ListenError
        If a device is named where the routes name theirs.
    """
    apart = _refused_rates(made, device, as_json)
    if apart is None:
        return made
    if not apart.taken or not playable.can_be_prepared_again(made):
        raise DeviceError(apart.in_words)
    rate_hz = playable.rate_for(apart.wanted, apart.taken)
    progress(f"preparing all again at {rate_hz} Hz …")
    again = playable.prepared_at(casebook, made.name, rate_hz)
    say(f"{apart.in_words}: all setups were prepared again at {rate_hz} Hz, in the same way.", as_json)
    return again


def trouble(casebook: Casebook, made: Plan, device: str | None, as_json: bool) -> tuple[Plan, str]:
    """The same, with what stands in the way in words instead of an error; empty for nothing."""
    try:
        return fitted(casebook, made, device, as_json), ""
    except DeviceError as error:
        return made, f"It cannot be played here: {error}"


def fitted_or_kept(casebook: Casebook, made: Plan, device: str | None, hint: str, as_json: bool) -> Plan:
    """The same; what stands in the way is refused with the command by which the draft is sealed all the same.

    Raises
    ------
    PlanError
        If it cannot be played here.
    """
    made, why = trouble(casebook, made, device, as_json)
    if why:
        raise PlanError(f"not sealed; the draft {made.name} is kept. {why}; {_elsewhere(made, hint)}")
    return made


def check(made: Plan, device: str | None, hint: str, as_json: bool) -> None:
    """Nothing, if a plan that is about to be sealed can be played, or nobody can be asked here.

    Raises
    ------
    PlanError
        If it cannot; with what can be done. `hint` is how a command names the casebook.
    """
    try:
        apart = _refused_rates(made, device, as_json)
    except DeviceError as error:
        raise PlanError(f"{_unsealed(made, str(error))}; {_elsewhere(made, hint)}") from error
    if apart is None:
        return
    ways = _elsewhere(made, hint)
    if apart.taken and playable.can_be_prepared_again(made):
        setups = " ".join(f"--setup {quote(setup.name)}" for setup in made.setups)
        rate_hz = playable.rate_for(apart.wanted, apart.taken)
        ways = f"to prepare it at a rate that it takes: {hint} match files --rate {rate_hz} {setups}; or {ways}"
    raise PlanError(f"{_unsealed(made, apart.in_words)}; {ways}")


def check_sealed(plan: Plan, device: str | None, hint: str) -> None:
    """Nothing, if a sealed plan can be played now; asked before a session is begun, so that none is begun in vain.

    Raises
    ------
    DeviceError, ListenError
        As for `players.rates_hz`; a rate that the device does not take is refused with the ways out.
    """
    wanted, taken = {passage.rate_hz for passage in plan.passages}, players.rates_hz(plan, device)
    if not wanted <= taken:
        raise DeviceError(f"{told_refused(wanted, taken)}; {_ways_of_sealed(plan, device, hint)}")


def free_rates(
    chains: Sequence[PlaybackChain | None], device: str | None, wanted: Collection[int], as_json: bool = False
) -> dict[int, int]:
    """At which rate everything of each rate wanted is played where nothing is sealed: its own, or one that is taken.

    Raises
    ------
    DeviceError, ListenError
        As for `players.rates_hz`; real gear, which keeps the rate at which it was read, is refused with the way out.
    """
    taken = players.taken_hz(chains, device, wanted)
    refused = set(wanted) - taken
    if refused and (not taken or any(chain is not None for chain in chains)):
        raise DeviceError(f"{told_refused(refused, taken)}; {_set_to(refused)}")
    found = {rate: rate if rate in taken else playable.rate_for({rate}, taken) for rate in wanted}
    if refused:
        rates = _joined({found[rate] for rate in refused})
        again = f"for this evening all are prepared again at {rates} Hz, in the same way."
        say(f"{told_refused(refused, taken)}: {again}", as_json)
    return found


def refused_step(plan: PlanStanding) -> Step | None:
    """What comes first where a sealed plan of files waits and the system's device now refuses its rate; else None.

    Without any device, or where it cannot be asked, nothing is known.
    """
    from audio.engine import devices

    if not is_of_files(plan.matched_by):
        return None
    try:
        taken = devices.playable(None, CHANNELS, [plan.rate_hz]).rates_hz
    except DeviceError:
        return None
    if plan.rate_hz in taken:
        return None
    what = (
        f"{plan.name} cannot be heard as it is, since {told_refused({plan.rate_hz}, taken)}: set the device to "
        f"{plan.rate_hz} Hz, or close the plan, and plan anew with the device there"
    )
    return Step(what, ("plan", "close", plan.name, "--why", f"the device does not play {plan.rate_hz} Hz"))


def of_chain(chain: PlaybackChain) -> list[str]:
    """What was found of a real setup's device, channels and switch as it was added, a sentence each."""
    found = []
    try:
        found.append(f"Device: {players.asked_of(chain)} is there, with these channels.")
    except NoDeviceError:
        found.append("Device: not checked, since no sound device is here now; plan, seal and listen ask it.")
    except DeviceError as error:
        found.append(f"Device: NOT READY: {error}. It is asked again by plan, seal and listen.")
    switch = chain.switch
    if switch is None or switch.how == "assistant":
        return found
    try:
        players.check_switch(chain)
        found.append("Switch: what works it is there; it was not thrown, so listen to it once before the evening.")
    except DeviceError as error:
        found.append(f"Switch: NOT READY: {error}.")
    return found


def _refused_rates(made: Plan, device: str | None, as_json: bool) -> RefusedRates | None:
    """The rates of a plan and those that all its devices take; None if these hold those, or nobody can be asked."""
    try:
        return device_question.refused_rates(made, device)
    except NoDeviceError:
        say(NOT_ASKED, as_json)
        return None


def _unsealed(made: Plan, why: str) -> str:
    return f"plan {made.name!r} is not sealed, since it cannot be played here: {why}"


def _elsewhere(made: Plan, hint: str) -> str:
    return f"if it will be heard on another machine: {hint} seal {quote(made.name)} --elsewhere"


def _ways_of_sealed(plan: Plan, device: str | None, hint: str) -> str:
    """What is to be done where the device refuses the rate of a plan whose files its seal has fixed."""
    wanted = {passage.rate_hz for passage in plan.passages}
    rates, ways = _joined(wanted), _set_to(wanted)
    if not playable.can_be_prepared_again(plan):
        return ways
    words = ["plan", plan.method.name]
    words += [word for setup in plan.setups for word in ("--setup", setup.name)]
    words += [word for listener in plan.listeners for word in ("--listener", listener.name)]
    words += ["--trials", str(plan.trials), *(["--device", device] if device else [])]
    why = f"the device does not play {rates} Hz"
    return (
        f"{ways}; or, since a seal fixes the files, close the plan: {hint} plan close {quote(plan.name)} --why "
        f"{quote(why)}; and plan anew, which prepares all again at a rate that the device takes: "
        f"{hint} {shlex.join(words)}"
    )


def _joined(rates_hz: Collection[int]) -> str:
    return " and ".join(map(str, sorted(rates_hz)))


def _set_to(rates_hz: Collection[int]) -> str:
    return f"set the device to {_joined(rates_hz)} Hz and listen again"
