"""The giveaway check: what is found, kept, and read again."""

from __future__ import annotations

from pathlib import Path

from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create
from sessions.preparation import giveaway_check
from sessions.preparation.selection import select
from tests.real_gear import add_music, match_volts


def test_a_clicking_switch_without_a_neutral_position_is_a_giveaway(tmp_path: Path) -> None:
    for number, (park, silent, ok) in enumerate((("", False, False), ("relay off", False, True), ("", True, True))):
        with create(tmp_path / f"book{number}") as casebook:
            for name in ("sallow", "bracken"):
                wish = playback_chain.SwitchWish("command", f"relay {name}", park=park, silent=silent)
                catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
            add_music(casebook)
            match_volts(casebook)
            found = giveaway_check.check(casebook, select(casebook, [], []))
            assert found.ok is ok
            assert {one.kind for one in found.findings} == (set() if ok else {"switching"})
