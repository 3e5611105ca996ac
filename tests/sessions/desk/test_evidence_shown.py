from __future__ import annotations

from sessions.casebook.store import Casebook
from sessions.desk import evidence_shown
from sessions.preparation import match_sheet
from sessions.preparation.match_sheet import MatchedPassage, MatchedSetup, MatchSheet, PreparedFile, PreparedPassage
from sessions.preparation.passage_audio import NO_MEND


def test_a_sheet_that_only_the_balance_of_its_channels_spoils_is_not_said_to_be_beyond_its_tolerance(
    casebook: Casebook,
) -> None:
    gains = {"a": (0.0, 0.0), "b": (0.0, -1.0)}
    setups = tuple(
        MatchedSetup(name, 0, 0, 0, 0, 0, 0, (), id=name, channel_gains_db=own) for name, own in gains.items()
    )
    files = tuple(PreparedFile(name, "", NO_MEND, "", "") for name in gains)
    passage = MatchedPassage("p", 0.02, 0.0, 0.04, (), setups, PreparedPassage("p", 48_000, 1, files))
    match_sheet.keep(casebook, MatchSheet("bs1770", 0.1, (passage,)))
    shown = evidence_shown.gather(casebook).sheets[0]
    assert "0.020 LU (in p; ± 0.04 LU from moment to moment), within the tolerance of 0.1 LU" in shown.told
    assert "balance differs by 1.00 dB" in shown.balance
    assert not shown.ok
