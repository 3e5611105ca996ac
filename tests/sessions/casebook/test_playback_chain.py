"""Playback chains: what may be compared, and what is refused when a switch or a route is said wrongly."""

from __future__ import annotations

from pathlib import Path

import pytest

from audio.errors import DeviceError
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create
from sessions.errors import CatalogueError


def test_kinds_of_setups_do_not_mix_and_switches_work_alike(tmp_path: Path) -> None:
    wish = playback_chain.SwitchWish("command", "relay a", silent=True)
    with create(tmp_path / "book") as casebook:
        rows = [
            catalogue.add_setup(casebook, "files"),
            catalogue.add_setup(casebook, "route", "", playback_chain.routed("box:1,2")),
            catalogue.add_setup(casebook, "mono", "", playback_chain.routed("box:3")),
            catalogue.add_setup(casebook, "relay", "", playback_chain.switched("box:1,2", wish)),
            catalogue.add_setup(
                casebook,
                "slow",
                "",
                playback_chain.switched("box:1,2", playback_chain.SwitchWish("command", "b", hold_ms=5000)),
            ),
        ]

        def check(*places: int) -> None:
            playback_chain.check_comparable([rows[p] for p in places])

        check(0, 0)
        check(1, 1)
        check(3, 3)
        for places, match in (((0, 1), "of one kind"), ((1, 2), "equally many channels"), ((3, 4), "differ in silent")):
            with pytest.raises(CatalogueError, match=match):
                check(*places)


@pytest.mark.parametrize(
    ("wish", "match"),
    [
        (playback_chain.SwitchWish("command"), "needs the command; add --do"),
        (playback_chain.SwitchWish("serial", "a001"), "needs its port"),
        (playback_chain.SwitchWish("serial", "zz", port="/dev/x"), "bytes in hexadecimal"),
        (playback_chain.SwitchWish("command", "a 'b"), "no command line"),
        (playback_chain.SwitchWish("command", "a", hold_ms=100), "--hold 0.1 is out of range"),
        (playback_chain.SwitchWish("command", "a", hold_ms=1000, settle_ms=1000), "must be shorter than --hold"),
        (playback_chain.SwitchWish("magic", "a"), "--switched is one of"),
    ],
)
def test_a_switch_said_wrongly_is_refused(wish: playback_chain.SwitchWish, match: str) -> None:
    with pytest.raises(CatalogueError, match=match):
        playback_chain.switched("box:1,2", wish)


def test_a_route_said_wrongly_is_refused() -> None:
    with pytest.raises(DeviceError, match="--route is DEVICE:CHANNEL"):
        playback_chain.routed("box")
    with pytest.raises(CatalogueError, match="--delay 200 is out of range"):
        playback_chain.routed("box:1,2", 200)
