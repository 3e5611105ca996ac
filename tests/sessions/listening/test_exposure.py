"""The noise dose: kept by listener and day, and the same whatever the key is."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from sessions.casebook.store import Casebook
from sessions.listening import exposure, session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan import Plan, PlannedSetup
from sessions.preparation import giveaway_check, match_sheet
from sessions.preparation.selection import select
from tests.fakes import SilentPlayer, at_once
from tests.real_gear import match_volts


def test_the_dose_is_kept_by_listener_and_day_and_does_not_depend_on_the_key(routed: Casebook) -> None:
    sheet = match_volts(routed)
    setups = tuple(PlannedSetup(own.id, own.setup, "route") for own in sheet.passages[0].setups)
    kept = match_sheet.newest(routed, select(routed, [], []))
    assert kept is not None
    assert exposure.chair_levels_dba(routed, _plan_with(kept.hash, setups)) == {}  # no calibrated microphone
    loud = [
        replace(part, setups=tuple(replace(own, chair_dba=79.0 + n) for n, own in enumerate(part.setups)))
        for part in sheet.passages
    ]
    newest = match_sheet.keep(routed, replace(sheet, passages=tuple(loud))).hash
    levels = exposure.chair_levels_dba(routed, _plan_with(newest, setups))
    assert set(levels.values()) == {80.0}  # the louder setup's, whatever is heard
    giveaway_check.check(routed, select(routed, [], []))
    drafting.draft(routed, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "gear")
    seals.seal(routed, "gear")
    with session.begin(routed, "gear", "Ada", "none") as running:
        ada = running.record.listener_id
        player = SilentPlayer()
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        from audio.engine.playback import Audition

        player.heard = [Audition(0, 0, 96_000), Audition(2, 0, 48_000)]
        runner.poll()
    assert exposure.heard_s(routed, ada) == pytest.approx(3.0)
    now = datetime.fromisoformat(routed.now())
    found = exposure.dose(routed, ada, now=now)
    assert found.day_percent == pytest.approx(100 * (3 / 3600) / (8 / 2 ** (-5 / 3)), rel=1e-6)
    assert found.week_percent == pytest.approx(100 * (3 / 3600) / 40, rel=1e-6)
    later = exposure.dose(routed, ada, now=now + timedelta(hours=25))
    assert later.day_percent == 0
    assert later.week_percent == found.week_percent
    assert exposure.dose(routed, ada, now=datetime(2100, 1, 1, tzinfo=UTC)).week_percent == 0


def _plan_with(sheet: str, setups: tuple[PlannedSetup, ...]) -> Plan:
    match = {"sheet": sheet, "by": "volts", "residual_lu": "0.0000", "tolerance_lu": "0.1"}
    return Plan({"match": match, "setups": [{"setup": one.id, "name": one.name} for one in setups]})
