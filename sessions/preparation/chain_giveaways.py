"""The giveaways of real setups, which all play the same prepared music. Pure."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from audio.giveaways.findings import LIMITS, Finding, finding

from ..casebook.catalogue import Passage
from .match_sheet import MatchSheet
from .selection import Selection


def chain_findings(selection: Selection, passage: Passage, sheet: MatchSheet | None) -> list[Finding]:
    """What could give real setups away beside their sound: how they arrive, and how the switch sounds."""
    found = []
    for setup in selection.setups:
        switch = setup.chain.switch if setup.chain else None
        if switch and switch.how != "assistant" and not switch.park and not switch.silent:
            what = (
                f"{setup.name}: the switch has no neutral position, so it clicks when the setup changes and not when "
                "it stays"
            )
            found.append(finding("switching", setup.name, passage.name, 1.0, what))
    arrivals = _arrivals_ms(selection, sheet)
    for pair in combinations(selection.setups, 2) if arrivals else ():
        early, late = sorted(pair, key=lambda setup: arrivals[setup.id])
        late_ms = arrivals[late.id] - arrivals[early.id]
        if late_ms > LIMITS["onset"].value:
            what = (
                f"{late.name} arrives {late_ms:.2f} ms later at the microphone than {early.name}; give {early.name} a "
                f"--delay, or place {late.name} nearer"
            )
            found.append(replace(finding("onset", late.name, passage.name, late_ms, what), against=early.name))
    return found


def _arrivals_ms(selection: Selection, sheet: MatchSheet | None) -> dict[str, float]:
    """When each setup arrives with its delay, by identifier; empty where it was not read."""
    if sheet is None or sheet.microphone is None or not sheet.microphone.arrivals_ms:
        return {}
    read_ms = sheet.microphone.arrivals_ms
    return {
        setup.id: read_ms[sheet.name_of(setup.id)] + (setup.chain.delay_us / 1000 if setup.chain else 0.0)
        for setup in selection.setups
    }
