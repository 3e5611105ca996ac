"""Real setups in the casebook: how they are entered, matched by voltmeter, planned, swapped by an assistant, dosed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.errors import DeviceError
from audio.files import reading
from audio.room import voltmeter
from demo_tracks import tracks
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Setup, Track
from sessions.casebook.store import Casebook, create
from sessions.errors import CatalogueError, ListenError, PlanError
from sessions.listening import exposure, playback, session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan import Plan
from sessions.preparation import match_files, match_real_gear
from sessions.results import verification
from tests.fakes import SilentPlayer

PASSAGE_S = 2.0


def music(casebook: Casebook) -> None:
    for piece in ("strings", "drums"):
        row = catalogue.add_track(casebook, piece)
        catalogue.add_music(casebook, row, tracks.path(piece))
        catalogue.add_passage(casebook, row, 48_000, round(PASSAGE_S * 48_000), 48_000, f"{piece} 1")


def volts(one: str, other: str) -> dict[str, dict[float, voltmeter.Volts]]:
    return {
        "sallow": {freq: voltmeter.parse(one) for freq in voltmeter.FREQUENCIES_HZ},
        "bracken": {freq: voltmeter.parse(other) for freq in voltmeter.FREQUENCIES_HZ},
    }


def match_volts(casebook: Casebook) -> dict[str, Any]:
    after = {name: voltmeter.parse("2.000") for name in ("sallow", "bracken")}
    selection = match_files.select(casebook, [], [])
    return match_real_gear.by_voltmeter(casebook, selection, volts("2.500", "2.000"), after)


@pytest.fixture
def routed(tmp_path: Path) -> Iterator[Casebook]:
    """Two setups on routes of their own, the second 2 ms late; two passages."""
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed("box:1,2"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed("box:3,4", 2.0))
        music(casebook)
        yield casebook


@pytest.fixture
def swapped(tmp_path: Path) -> Iterator[Casebook]:
    """Two setups that an assistant swaps, matched and checked."""
    with create(tmp_path / "book") as casebook:
        for name in ("sallow", "bracken"):
            wish = playback_chain.SwitchWish("assistant", f"cables to {name}", hold_ms=3000)
            catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
        music(casebook)
        match_volts(casebook)
        match_files.check_giveaways(casebook, match_files.select(casebook, [], []))
        yield casebook


def test_what_is_prepared_is_the_music_with_the_trim_and_the_delay(routed: Casebook) -> None:
    document = match_volts(routed)
    assert document["ok"]
    assert document["readings"]["gains"]["sallow"] == pytest.approx(20 * np.log10(2.0 / 2.5))
    prepared = document["passages"][0]["prepared"]
    names = {row.id: row.name for row in catalogue.everything(routed, Setup)}
    sound = {names[own["setup"]]: reading.read(routed.prepared / own["file"]).samples for own in prepared["setups"]}
    applied = {own["setup"]: own["gain_db"] for own in document["passages"][0]["setups"]}
    assert applied["sallow"] - applied["bracken"] == pytest.approx(20 * np.log10(2.0 / 2.5))
    whole = reading.read(tracks.path("strings")).samples
    for name, delay in (("sallow", 0), ("bracken", 96)):
        begin = 48_000 - delay
        expected = whole[begin : begin + 96_000] * 10 ** (applied[name] / 20)
        inside = slice(480, -480)  # between the fades at its ends
        np.testing.assert_allclose(sound[name][inside], expected[inside], atol=3 / 2**23)  # rounding and dither


def test_the_sheet_holds_for_later_passages_too(routed: Casebook) -> None:
    match_volts(routed)
    track = catalogue.find(routed, Track, "drums")
    catalogue.add_passage(routed, track, 200_000, 96_000, 48_000, "later")
    selection = match_files.select(routed, [], [])
    assert match_files.newest_sheet(routed, selection) is None
    again = match_real_gear.further_passages(routed, selection)
    assert [part["passage"] for part in again["passages"]] == ["strings 1", "drums 1", "later"]
    assert match_files.newest_sheet(routed, selection) is not None
    assert again["readings"]["gains"]["sallow"] == pytest.approx(20 * np.log10(2.0 / 2.5))


def test_without_any_sheet_later_passages_have_nothing_to_go_by(routed: Casebook) -> None:
    with pytest.raises(CatalogueError, match="no microphone or voltmeter sheet of these setups yet"):
        match_real_gear.further_passages(routed, match_files.select(routed, [], []))


def test_a_single_loudspeaker_plays_the_mean_of_both_channels(tmp_path: Path) -> None:
    with create(tmp_path / "book") as casebook:
        catalogue.add_setup(casebook, "sallow", "", playback_chain.routed(":1"))
        catalogue.add_setup(casebook, "bracken", "", playback_chain.routed(":2"))
        music(casebook)
        document = match_volts(casebook)
        own = document["passages"][0]["prepared"]["setups"][1]
        applied = document["passages"][0]["setups"][1]["gain_db"]
        sound = reading.read(casebook.prepared / own["file"]).samples
        whole = reading.read(tracks.path("strings")).samples[48_000:144_000]
        assert sound.shape == (96_000, 1)
        expected = whole.mean(axis=1, keepdims=True) * 10 ** (applied / 20)
        np.testing.assert_allclose(sound[480:-480], expected[480:-480], atol=3 / 2**23)


def test_a_plan_of_routes_is_sealed_with_its_chains_and_plays_them(routed: Casebook) -> None:
    match_volts(routed)
    selection = match_files.select(routed, [], [])
    assert match_files.check_giveaways(routed, selection)["ok"]
    drafting.draft(routed, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "gear")
    plan = seals.seal(routed, "gear").plan
    assert plan.setups[1].chain.channels == (2, 3)
    assert plan.blinding.startswith("double-blind")
    player = playback.playback(plan, None)
    assert player._routes == [[0, 1], [2, 3]]  # type: ignore[union-attr]
    with pytest.raises(ListenError, match="leave --device out"):
        playback.playback(plan, "kitchen")
    silent = SilentPlayer()
    with session.begin(routed, "gear", "Ada", "none") as running:
        runner = TrialRunner(running, silent)
        offered = runner.offer()
        assert offered is not None
        a, b, x = silent.loaded[0]
        np.testing.assert_array_equal(x, (a, b)[offered.key["X"]])
    assert verification.verify(routed).ok


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


def test_real_setups_have_no_recordings_and_files_no_microphone(routed: Casebook) -> None:
    row, track = catalogue.find(routed, Setup, "sallow"), catalogue.find(routed, Track, "drums")
    with pytest.raises(CatalogueError, match="is real gear and has no recordings"):
        catalogue.add_recording(routed, row, track, tracks.path("drums"))
    with pytest.raises(CatalogueError, match="match files works on recordings"):
        match_files.make_match_sheet(routed, match_files.select(routed, [], []))
    with pytest.raises(CatalogueError, match="has its music already"):
        catalogue.add_music(routed, track, tracks.path("drums"))


def test_a_clicking_switch_without_a_neutral_position_is_a_giveaway(tmp_path: Path) -> None:
    for number, (park, silent, ok) in enumerate((("", False, False), ("relay off", False, True), ("", True, True))):
        with create(tmp_path / f"book{number}") as casebook:
            for name in ("sallow", "bracken"):
                wish = playback_chain.SwitchWish("command", f"relay {name}", park=park, silent=silent)
                catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
            music(casebook)
            match_volts(casebook)
            found = match_files.check_giveaways(casebook, match_files.select(casebook, [], []))
            assert found["ok"] is ok
            assert {part["kind"] for part in found["findings"]} == (set() if ok else {"switching"})


def test_an_assistant_makes_the_plan_single_blind_and_cannot_listen(swapped: Casebook) -> None:
    with pytest.raises(PlanError, match="the assistant who swaps the setups cannot be a listener"):
        drafting.draft(swapped, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "swap")
    drafting.draft(swapped, plan_rows.Wish("abx", listeners=("Ada",), trials=2, operator="Bo"), "swap")
    plan = seals.seal(swapped, "swap").plan
    assert plan.blinding.startswith("single-blind")
    with pytest.raises(ListenError, match="an assistant swaps the setups"):
        playback.playback(plan, None)


def test_the_dose_is_kept_by_listener_and_day_and_does_not_depend_on_the_key(routed: Casebook) -> None:
    sheet = match_volts(routed)
    row = routed.query("SELECT hash, document FROM match_sheets")[0]
    assert exposure.chair_levels_dba(routed, _plan_with(row["hash"])) == {}  # no calibrated microphone
    for part in sheet["passages"]:
        for own, level in zip(part["setups"], (79.0, 80.0), strict=True):
            own["chair_dba"] = level
    routed.append("match_sheets", "sheet", {"document": json.dumps(sheet)})
    newest = routed.query("SELECT hash FROM match_sheets ORDER BY seq DESC")[0]["hash"]
    levels = exposure.chair_levels_dba(routed, _plan_with(newest))
    assert set(levels.values()) == {80.0}  # the louder setup's, whatever is heard
    match_files.check_giveaways(routed, match_files.select(routed, [], []))
    drafting.draft(routed, plan_rows.Wish("abx", listeners=("Ada",), trials=2), "gear")
    seals.seal(routed, "gear")
    with session.begin(routed, "gear", "Ada", "none") as running:
        ada = running.record.listener_id
        player = SilentPlayer()
        runner = TrialRunner(running, player)
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


def _plan_with(sheet: str) -> Plan:
    return Plan(
        {"match": {"sheet": sheet}, "setups": [{"setup": "s", "name": "sallow"}, {"setup": "b", "name": "bracken"}]}
    )
