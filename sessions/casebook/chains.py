"""The chain of a real setup: the device and channels it plays on, its delay, and the switch before it. Documents only.

Text and whole numbers, so that a chain can stand in a sealed plan as it is.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audio.engine.routes import Route, parse

from ..errors import CatalogueError
from .store import Casebook, Row

FILES, ROUTE, SWITCHED = "files", "route", "switched"
HOWS = ("command", "serial", "assistant")
SHORTEST_HOLD_MS, LONGEST_HOLD_MS = 200, 600_000
DEFAULT_HOLD_MS = {"command": 2000, "serial": 2000, "assistant": 60_000}
DEFAULT_SETTLE_MS = 500
MOST_DELAY_MS = 100.0  # 34 m of air; more is a slip of the keyboard

Chain = Mapping[str, Any]


@dataclass(frozen=True)
class SwitchWish:
    """What the person says of an outside switch; see `switched`."""

    how: str
    action: str = ""
    park: str = ""
    port: str = ""
    baud: int = 9600
    reply: str = ""
    silent: bool = False
    hold_ms: int | None = None
    settle_ms: int = DEFAULT_SETTLE_MS


def routed(route: str, delay_ms: float = 0.0) -> dict[str, Any]:
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
    return {
        "kind": ROUTE,
        "device": parsed.device or "",
        "channels": list(parsed.channels),
        "delay_us": round(1000 * delay_ms),
    }


def switched(route: str, wish: SwitchWish, delay_ms: float = 0.0) -> dict[str, Any]:
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
    switch: dict[str, Any] = {
        "how": wish.how,
        "action": _action(wish, wish.action, "--do"),
        "park": _action(wish, wish.park, "--park") if wish.park else [],
        "silent": wish.silent,
        "hold_ms": hold_ms,
        "settle_ms": wish.settle_ms,
    }
    if wish.how == "serial":
        if not wish.port:
            raise CatalogueError("a serial switch needs its port; add --port /dev/ttyUSB0 (or COM3)")
        switch |= {"port": wish.port, "baud": wish.baud, "reply": _hexadecimal(wish.reply, "--reply")}
    return routed(route, delay_ms) | {"kind": SWITCHED, "switch": switch}


def keep(casebook: Casebook, setup: Row, chain: Chain) -> None:
    """Keep a setup's chain."""
    casebook.insert("chains", {"setup_id": setup["id"], "document": json.dumps(chain, sort_keys=True)})


def of(casebook: Casebook, setup: Row) -> dict[str, Any]:
    """The chain of a real setup; empty for one that is heard through its recordings."""
    rows = casebook.query("SELECT document FROM chains WHERE setup_id = ?", [setup["id"]])
    return dict(json.loads(rows[0]["document"])) if rows else {}


def route_of(chain: Chain) -> Route:
    """Where a chain plays."""
    return Route(chain["device"] or None, tuple(chain["channels"]))


def check_comparable(setups: Sequence[Row], chains: Sequence[Chain]) -> None:
    """Nothing, if these setups can be compared with each other: all files, all routes, or all behind one switch.

    Raises
    ------
    CatalogueError
        If they are mixed, differ in channels, or their switches work in different ways.
    """
    kinds = {row["kind"] for row in setups}
    names = ", ".join(f"{row['name']} ({row['kind']})" for row in setups)
    if len(kinds) > 1:
        raise CatalogueError(f"setups under comparison are of one kind, all files, all routes or all switched: {names}")
    if kinds == {FILES}:
        return
    if len({len(chain["channels"]) for chain in chains}) > 1:
        raise CatalogueError(f"setups under comparison play on equally many channels: {names}")
    if kinds == {SWITCHED}:
        for part in ("device", "channels", "delay_us"):
            if len({json.dumps(chain[part]) for chain in chains}) > 1:
                raise CatalogueError(f"switched setups share one route and delay, the switch does the rest: {names}")
        for part in ("how", "park", "silent", "hold_ms", "settle_ms"):
            if len({json.dumps(chain["switch"][part]) for chain in chains}) > 1:
                raise CatalogueError(
                    f"the switches of setups under comparison work alike, but differ in {part}: {names}"
                )


def described(chain: Chain) -> str:
    """A chain in words."""
    if not chain:
        return "recordings"
    text = f"plays on {route_of(chain).text}"
    if chain["delay_us"]:
        text += f", {chain['delay_us'] / 1000:g} ms late"
    if chain["kind"] == SWITCHED:
        switch = chain["switch"]
        text += f", switched by {switch['how']}, {switch['hold_ms'] / 1000:g} s of silence at every change"
        text += ", through a neutral position" if switch["park"] else ", silent switch" if switch["silent"] else ""
    return text


def _action(wish: SwitchWish, text: str, option: str) -> list[str]:
    """What a switch is told, as a list of words: a command line, one of hexadecimal bytes, or a sentence."""
    if not text.strip():
        meaning = {"command": "the command", "serial": "the bytes in hexadecimal", "assistant": "the instruction"}
        raise CatalogueError(f"a switch by {wish.how} needs {meaning[wish.how]}; add {option} TEXT")
    if wish.how == "serial":
        return [_hexadecimal(text, option)]
    if wish.how == "assistant":
        return [" ".join(text.split())]
    try:
        return shlex.split(text)
    except ValueError as error:
        raise CatalogueError(f"{option} {text!r} is no command line ({error}); check its quotes") from error


def _hexadecimal(text: str, option: str) -> str:
    try:
        return bytes.fromhex(text).hex()
    except ValueError as error:
        raise CatalogueError(f"{option} takes bytes in hexadecimal, like 'A0 01 A1'; got {text!r}") from error
