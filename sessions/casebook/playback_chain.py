"""The chain of a real setup: the device and channels it plays on, its delay, and the switch before it.

Its document holds text and whole numbers, so that a chain can stand in a sealed plan as it is.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal, Protocol

from audio.engine.routes import Route, parse

from ..errors import CatalogueError
from . import documents

FILES: Final = "files"
ROUTE: Final = "route"
SWITCHED: Final = "switched"
How = Literal["command", "serial", "assistant"]
HOWS: tuple[How, ...] = ("command", "serial", "assistant")
SHORTEST_HOLD_MS, LONGEST_HOLD_MS = 200, 600_000
DEFAULT_HOLD_MS = {"command": 2000, "serial": 2000, "assistant": 60_000}
DEFAULT_SETTLE_MS = 500
MOST_DELAY_MS = 100.0  # 34 m of air; more is a slip of the keyboard


@dataclass(frozen=True)
class OutsideSwitch:
    """An outside switch, as it leads the sound to one setup.

    Attributes
    ----------
    action, park
        What it is given for this setup, and for the neutral position between (empty: it has none): the words of a
        command line, one word of hexadecimal bytes, or an instruction for the assistant.
    hold_ms, settle_ms
        The silence at every change, and the part of it after the switch.
    port, baud, reply
        Of a serial switch; `reply` are the bytes, in hexadecimal, that it answers with.
    """

    how: How
    action: tuple[str, ...]
    park: tuple[str, ...]
    silent: bool
    hold_ms: int
    settle_ms: int
    port: str = ""
    baud: int = 0
    reply: str = ""

    def to_document(self) -> dict[str, Any]:
        """The switch as plans and casebook hold it; port, speed and reply only where it is serial."""
        stated: dict[str, Any] = documents.plain(self)
        return stated if self.how == "serial" else {k: stated[k] for k in stated if k not in ("port", "baud", "reply")}


@dataclass(frozen=True)
class PlaybackChain:
    """Where a real setup plays, how late, and what leads the sound to it.

    Attributes
    ----------
    device
        Empty: the system's default.
    channels
        Output channels, from 0.
    """

    kind: Literal["route", "switched"]
    device: str
    channels: tuple[int, ...]
    delay_us: int
    switch: OutsideSwitch | None = None

    @property
    def route(self) -> Route:
        """Where it plays."""
        return Route(self.device or None, self.channels)

    @property
    def outside_switch(self) -> OutsideSwitch:
        """The switch of a setup behind one.

        Raises
        ------
        CatalogueError
            If there is none.
        """
        if self.switch is None:
            raise CatalogueError(f"no outside switch leads to {self.route.text}")
        return self.switch

    @property
    def assisted(self) -> bool:
        """Whether a person swaps the setups."""
        return self.switch is not None and self.switch.how == "assistant"

    def to_document(self) -> dict[str, Any]:
        """The chain as plans and casebook hold it; a switch only where there is one."""
        stated: dict[str, Any] = documents.plain(self)
        del stated["switch"]
        return stated if self.switch is None else stated | {"switch": self.switch.to_document()}


class HasChain(Protocol):
    """A setup, as far as its chain goes."""

    @property
    def name(self) -> str: ...  # noqa: D102 - the protocol's parts say what they are

    @property
    def kind(self) -> str: ...  # noqa: D102

    @property
    def chain(self) -> PlaybackChain | None: ...  # noqa: D102


@dataclass(frozen=True)
class SwitchWish:
    """What the person says of an outside switch; see `switched`."""

    how: How
    action: str = ""
    park: str = ""
    port: str = ""
    baud: int = 9600
    reply: str = ""
    silent: bool = False
    hold_ms: int | None = None
    settle_ms: int = DEFAULT_SETTLE_MS


def routed(route: str, delay_ms: float = 0.0) -> PlaybackChain:
    """The chain of a setup with channels of its own.

    Raises
    ------
    CatalogueError
        If the delay is out of range.
    DeviceError
        If the route is not one.
    """
    parsed = parse(route, "--route")
    if not 0 <= delay_ms <= MOST_DELAY_MS:
        raise CatalogueError(f"--delay {delay_ms:g} is out of range; give 0 to {MOST_DELAY_MS:g} milliseconds")
    return PlaybackChain(ROUTE, parsed.device or "", tuple(parsed.channels), round(1000 * delay_ms))


def switched(route: str, wish: SwitchWish, delay_ms: float = 0.0) -> PlaybackChain:
    """The chain of a setup behind an outside switch.

    `wish.action` is a command line (run without a shell), bytes as hexadecimal, or an instruction for the assistant;
    `wish.park` the same for the neutral position between; `wish.reply` the bytes a serial switch answers with.

    Raises
    ------
    CatalogueError
        If something is missing or out of range.
    """
    if wish.how not in HOWS:
        raise CatalogueError(f"--switched is one of {', '.join(HOWS)}; got {wish.how!r}")
    hold_ms = DEFAULT_HOLD_MS[wish.how] if wish.hold_ms is None else wish.hold_ms
    if not SHORTEST_HOLD_MS <= hold_ms <= LONGEST_HOLD_MS:
        raise CatalogueError(
            f"--hold {hold_ms / 1000:g} is out of range; give {SHORTEST_HOLD_MS / 1000:g} to "
            f"{LONGEST_HOLD_MS / 1000:g} seconds of silence for switching"
        )
    if not 0 <= wish.settle_ms < hold_ms:
        raise CatalogueError(f"--settle {wish.settle_ms / 1000:g} must be shorter than --hold {hold_ms / 1000:g}")
    serial = wish.how == "serial"
    if serial and not wish.port:
        raise CatalogueError("a serial switch needs its port; add --port /dev/ttyUSB0 (or COM3)")
    switch = OutsideSwitch(
        how=wish.how,
        action=_action(wish, wish.action, "--do"),
        park=_action(wish, wish.park, "--park") if wish.park else (),
        silent=wish.silent,
        hold_ms=hold_ms,
        settle_ms=wish.settle_ms,
        port=wish.port if serial else "",
        baud=wish.baud if serial else 0,
        reply=_hexadecimal(wish.reply, "--reply") if serial else "",
    )
    return replace(routed(route, delay_ms), kind=SWITCHED, switch=switch)


def from_document(document: Mapping[str, Any]) -> PlaybackChain:
    """The chain that a document states."""
    return documents.from_plain(document, PlaybackChain)


def check_comparable(setups: Sequence[HasChain]) -> None:
    """Nothing, if these setups can be compared with each other: all files, all routes, or all behind one switch.

    Raises
    ------
    CatalogueError
        If they are mixed, differ in channels, or their switches work in different ways.
    """
    names = ", ".join(f"{setup.name} ({setup.kind})" for setup in setups)
    if len({setup.kind for setup in setups}) > 1:
        raise CatalogueError(f"setups under comparison are of one kind, all files, all routes or all switched: {names}")
    chains = [setup.chain for setup in setups if setup.chain is not None]
    if len({len(chain.channels) for chain in chains}) > 1:
        raise CatalogueError(f"setups under comparison play on equally many channels: {names}")
    switches = [chain.switch for chain in chains if chain.switch is not None]
    if not switches:
        return
    if len({(chain.device, chain.channels, chain.delay_us) for chain in chains}) > 1:
        raise CatalogueError(f"switched setups share one route and delay, the switch does the rest: {names}")
    for part in ("how", "park", "silent", "hold_ms", "settle_ms"):
        if len({getattr(switch, part) for switch in switches}) > 1:
            raise CatalogueError(f"the switches of setups under comparison work alike, but differ in {part}: {names}")


def described(chain: PlaybackChain | None) -> str:
    """A chain in words."""
    if chain is None:
        return "recordings"
    text = f"plays on {chain.route.text}"
    if chain.delay_us:
        text += f", {chain.delay_us / 1000:g} ms late"
    switch = chain.switch
    if switch is not None:
        text += f", switched by {switch.how}, {switch.hold_ms / 1000:g} s of silence at every change"
        text += ", through a neutral position" if switch.park else ", silent switch" if switch.silent else ""
    return text


def _action(wish: SwitchWish, text: str, option: str) -> tuple[str, ...]:
    """What a switch is given, in words: a command line, one of hexadecimal bytes, or a sentence."""
    if not text.strip():
        meaning = {"command": "the command", "serial": "the bytes in hexadecimal", "assistant": "the instruction"}
        raise CatalogueError(f"a switch by {wish.how} needs {meaning[wish.how]}; add {option} TEXT")
    if wish.how == "serial":
        return (_hexadecimal(text, option),)
    if wish.how == "assistant":
        return (" ".join(text.split()),)
    try:
        return tuple(shlex.split(text))
    except ValueError as error:
        raise CatalogueError(f"{option} {text!r} is no command line ({error}); check its quotes") from error


def _hexadecimal(text: str, option: str) -> str:
    try:
        return bytes.fromhex(text).hex()
    except ValueError as error:
        raise CatalogueError(f"{option} takes bytes in hexadecimal, like 'A0 01 A1'; got {text!r}") from error
