"""What plays a sealed plan: routes of one device, or an assistant who swaps the setups."""

from __future__ import annotations

import numpy as np
import pytest

from audio.engine import devices
from audio.engine.devices import Playable
from sessions.casebook.store import Casebook
from sessions.errors import ListenError, PlanError
from sessions.listening import players, session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, plan_rows, seals
from sessions.preparation import giveaway_check
from sessions.preparation.selection import select
from sessions.results import verification
from tests.fakes import SilentPlayer, at_once
from tests.real_gear import match_volts


def test_a_plan_of_routes_is_sealed_with_its_chains_and_plays_them(routed: Casebook) -> None:
    match_volts(routed)
    selection = select(routed, [], [])
    assert giveaway_check.check(routed, selection).ok
    drafting.draft(routed, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "gear")
    plan = seals.seal(routed, "gear").plan
    assert plan.setups[1].chain.channels == (2, 3)
    assert plan.blinding.startswith("double-blind")
    player = players.player_of(plan, None)
    assert player._routes == [[0, 1], [2, 3]]  # type: ignore[union-attr]
    with pytest.raises(ListenError, match="leave --device out"):
        players.player_of(plan, "kitchen")
    silent = SilentPlayer()
    with session.begin(routed, "gear", "Ada", "none") as running:
        runner = TrialRunner(running, silent, sleep=at_once)
        offered = runner.offer()
        assert offered is not None
        a, b, x = silent.loaded[0]
        np.testing.assert_array_equal(x, (a, b)[offered.key["X"]])
    assert verification.verify(routed).ok


def test_devices_are_looked_for_with_all_that_the_plan_needs_of_them(
    routed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str | None, int, list[int]]] = []
    monkeypatch.setattr(devices, "playable", lambda *needed: asked.append(needed) or Playable("box", frozenset()))
    match_volts(routed)
    assert giveaway_check.check(routed, select(routed, [], [])).ok
    drafting.draft(routed, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "gear")
    plan = seals.seal(routed, "gear").plan
    players.rates_hz(plan, None)
    chain = plan.setups[0].chain
    assert chain is not None
    assert asked == [(chain.route.device, 4, [plan.passages[0].rate_hz])]  # on channels 1, 2 and 3, 4
    with pytest.raises(ListenError, match="leave --device out"):
        players.rates_hz(plan, "kitchen")


def test_an_assistant_makes_the_plan_single_blind_and_cannot_listen(swapped: Casebook) -> None:
    with pytest.raises(PlanError, match="the assistant who swaps the setups cannot be a listener"):
        drafting.draft(swapped, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "swap")
    drafting.draft(swapped, plan_rows.Wish("abx", listeners=("Ada",), trials=2, operator="Bo"), "swap")
    plan = seals.seal(swapped, "swap").plan
    assert plan.blinding.startswith("single-blind")
    with pytest.raises(ListenError, match="an assistant swaps these setups"):
        players.player_of(plan, None)
