"""From a sealed plan to what plays it: files on one device, routes on one or more, gear behind a switch."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING

from ..casebook.playback_chain import OutsideSwitch, PlaybackChain
from ..errors import ListenError
from ..plans.plan import Plan
from ..plans.plan_parts import PlannedSetup

if TYPE_CHECKING:
    from audio.engine.interrupted import InterruptedPlayer
    from audio.engine.player import Player
    from audio.engine.routes import Route
    from audio.engine.switches import Switch

    from ..casebook.store import Casebook

LEAST_CHANNELS = 2  # the player opens no fewer where no route names its own
HANDOVER_HOLD_S = 0.5  # between setups on two devices: long enough to hide that they start differently; our choice

Ask = Callable[[int, float], bool]
"""Asks the assistant for the setup at a place, for so many seconds; whether they confirmed."""


def player_of(plan: Plan, device: str | None, ask: Ask | None = None) -> Player | InterruptedPlayer:
    """What plays a plan (a context manager).

    Parameters
    ----------
    device
        The device named by the listener; only for plans of files, since routes name their own.
    ask
        How the assistant is asked, for setups that a person swaps.

    Raises
    ------
    ListenError
        If a device is named where the routes name theirs, or an assistant is needed and there is none to ask.
    """
    return player_on([setup.chain for setup in plan.setups], device, ask)


def player_on(
    chains: Sequence[PlaybackChain | None], device: str | None, ask: Ask | None = None
) -> Player | InterruptedPlayer:
    """What plays some setups (a context manager), by their chains, all of them None where files are played.

    Raises
    ------
    ListenError
        As for `player_of`.
    """
    from audio.engine.interrupted import InterruptedPlayer
    from audio.engine.player import Player

    found = [chain for chain in chains if chain is not None]
    if not found:
        return Player(device)
    _check_unnamed(device)
    routes = [chain.route for chain in found]
    names = sorted({route.device or "" for route in routes})
    players = [
        Player(
            name or None, routes=[r.channels if (r.device or "") == name else _routes_on(routes, name) for r in routes]
        )
        for name in names
    ]
    if found[0].switch is not None:
        first = found[0].switch
        switch = switch_of([chain.outside_switch for chain in found], ask)
        hold_s, settle_s = first.hold_ms / 1000, first.settle_ms / 1000
        return InterruptedPlayer(players, lambda place: 0, hold_s, switch, settle_s, setups=len(found))
    if len(players) == 1:
        return players[0]
    device_of = [names.index(route.device or "") for route in routes]
    return InterruptedPlayer(players, device_of.__getitem__, HANDOVER_HOLD_S, setups=len(found))


def rates_hz(plan: Plan, device: str | None) -> frozenset[int]:
    """The sample rates that everything a plan plays on takes at this moment, on the channels needed.

    Parameters
    ----------
    device
        As in `player_of`.

    Raises
    ------
    NoDeviceError
        If this machine has no sound device that could be asked.
    DeviceError
        If a device is missing, or lacks the channels.
    ListenError
        If a device is named where the routes name theirs.
    """
    return taken_hz([setup.chain for setup in plan.setups], device, {passage.rate_hz for passage in plan.passages})


def taken_hz(chains: Sequence[PlaybackChain | None], device: str | None, wanted_hz: Collection[int]) -> frozenset[int]:
    """The sample rates, the common ones and those wanted, that everything which plays some setups takes now.

    Raises
    ------
    NoDeviceError, DeviceError, ListenError
        As for `rates_hz`.
    """
    from audio.engine import devices

    needed = _needed(chains, device)
    found = [devices.playable(name or None, channels, sorted(wanted_hz)) for name, channels in needed.items()]
    return frozenset.intersection(*(each.rates_hz for each in found))


def playing_on(chain: PlaybackChain | None, device: str | None) -> str:
    """What one setup plays on now, as it is kept: the full name of the device, or a route; never just the default.

    Raises
    ------
    NoDeviceError, DeviceError, ListenError
        As for `rates_hz`.
    """
    from audio.engine import devices

    if chain is not None and chain.route.device:
        _check_unnamed(device)
        return chain.route.text
    [(name, channels)] = _needed([chain], device).items()
    found = devices.playable(name or None, channels).device
    return found if chain is None else f"{found}{chain.route.text}"


def asked_of(chain: PlaybackChain) -> str:
    """The full name of the device that a chain plays on now, if it is there with the channels that the chain needs.

    Raises
    ------
    NoDeviceError
        If this machine has no sound device that could be asked.
    DeviceError
        If the device is missing, or lacks the channels.
    """
    from audio.engine import devices

    return devices.playable(chain.device or None, 1 + max(chain.channels)).device


def check_switch(chain: PlaybackChain) -> None:
    """Nothing, if what works a chain's outside switch is there; nothing is switched.

    Raises
    ------
    SwitchError
        If it is not.
    """
    from audio.engine import switches

    switch = chain.switch
    if switch is None or switch.how == "assistant":
        return
    if switch.how == "serial":
        switches.check_port(switch.port, switch.baud)
        return
    for words in (switch.action, switch.park):
        if words:
            switches.check_command(words)


def check_audio(casebook: Casebook, plan: Plan) -> None:
    """Nothing, if all prepared audio of a plan is there and what was sealed; asked before a session is begun.

    Raises
    ------
    ListenError
        If some is missing or not what was sealed.
    """
    from ..preparation import prepared_audio

    for passage in plan.passages:
        for source, sha256 in passage.audio.items():
            prepared_audio.file_of(
                casebook, sha256, passage.name, named=passage.files.get(source), sheet=plan.match.sheet
            )


def assisted(plan: Plan) -> bool:
    """Whether a person swaps the setups of this plan."""
    return any(setup.chain is not None and setup.chain.assisted for setup in plan.setups)


def instruction(plan: Plan, place: int) -> str:
    """What the assistant is asked to connect for a setup; an anchor plays where the reference does."""
    return _chain(plan.setups[place if place < len(plan.setups) else 0]).outside_switch.action[0]


def switch_of(switches: Sequence[OutsideSwitch], ask: Ask | None = None) -> Switch:
    """The switch that leads the sound to each of these setups.

    Raises
    ------
    ListenError
        If an assistant is needed and there is none to ask.
    """
    from audio.engine.switches import AssistantSwitch, CommandSwitch, SerialSwitch

    first = switches[0]
    if first.how == "command":
        return CommandSwitch([list(switch.action) for switch in switches], list(first.park))
    if first.how == "serial":
        messages = [
            (switch.port, switch.baud, bytes.fromhex(switch.action[0]), bytes.fromhex(switch.reply))
            for switch in switches
        ]
        return SerialSwitch(messages, bytes.fromhex(first.park[0]) if first.park else b"")
    if ask is None:
        raise ListenError("an assistant swaps these setups; open their page (earwitness assist) or --cards")
    return AssistantSwitch(ask)


def _check_unnamed(device: str | None) -> None:
    if device is not None:
        raise ListenError("these setups play on their own routes; leave --device out")


def _needed(chains: Sequence[PlaybackChain | None], device: str | None) -> dict[str, int]:
    """The channels needed of each device, by its name; empty: the system's."""
    routes = [chain.route for chain in chains if chain is not None]
    if not routes:
        return {device or "": LEAST_CHANNELS}
    _check_unnamed(device)
    needed: dict[str, int] = {}
    for route in routes:
        needed[route.device or ""] = max(needed.get(route.device or "", 0), *(1 + place for place in route.channels))
    return needed


def _routes_on(routes: Sequence[Route], device: str) -> tuple[int, ...]:
    """Channels on a device for a setup that does not play there: those of one that does (it stays silent)."""
    return next(tuple(route.channels) for route in routes if (route.device or "") == device)


def _chain(setup: PlannedSetup) -> PlaybackChain:
    if setup.chain is None:
        raise ListenError(f"{setup.name!r} is heard through its recordings; nothing leads the sound to it")
    return setup.chain
