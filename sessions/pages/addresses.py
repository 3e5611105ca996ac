"""By which addresses a phone finds this machine. It asks the system alone; nothing is sent."""

from __future__ import annotations

import contextlib
import socket

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
_SOMEWHERE = ("192.0.2.1", 9)  # for documentation (RFC 5737): no datagram is sent to find the way to it


def of_this_machine() -> list[str]:
    """Its IPv4 addresses on local networks, the one that leads out first."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect(_SOMEWHERE)
        found.append(str(probe.getsockname()[0]))
    with contextlib.suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [one for one in dict.fromkeys(found) if not one.startswith("127.")]


def names() -> list[str]:
    """The names it is known by: its own, and that on local networks."""
    name = socket.gethostname().lower()
    return [name, f"{name.partition('.')[0]}.local"]


def hosts(port: int, *, lan: bool) -> list[str]:
    """All it may be asked by, each with the port."""
    own = [LOOPBACK, "localhost", *(of_this_machine() + names() if lan else [])]
    return [f"{one}:{port}" for one in own]
