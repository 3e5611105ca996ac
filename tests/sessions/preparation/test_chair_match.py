"""At which level loudness is heard at the chair: as a calibrated microphone reads it, or as taken; what that moves."""

from __future__ import annotations

from audio.engine.routes import Route
from audio.room import chair_loudness
from sessions.preparation import chair_match
from sessions.preparation.chair_match import Before
from sessions.preparation.microphone_pass import MicrophoneWish
from tests.audio.room.test_chair_loudness import RATE, read


def test_a_calibrated_microphone_tells_the_level_and_another_one_what_taking_it_may_move() -> None:
    position = read({"sallow": -20.0, "bracken": -20.0}, 1e-6, cut_hz=300)
    softest = chair_loudness.level_dbfs(chair_loudness.sounds([position], RATE)["bracken"])

    def before(offset_db: float | None) -> Before:
        wish = MicrophoneWish(Route(None, (0,)), "zwicker", chair_spl_db=60.0)
        return chair_match.before([position], wish, RATE, None, offset_db, print)

    calibrated, taken = before(125.3), before(None)
    assert calibrated.by == "zwicker@125"
    assert taken.by == f"zwicker@{round(60 - softest)}"
    assert calibrated.loudness is not None
    assert (calibrated.loudness.assumed_spl_db, calibrated.loudness.trims_at) == (None, {})
    assert taken.loudness is not None
    assert taken.loudness.assumed_spl_db == 60.0
    trims = taken.loudness.trims_at
    assert set(trims) == {"+0", "-10", "+10"}
    assert abs(trims["+0"]["sallow"] - taken.gains_db["sallow"]) < 0.001
    assert (
        trims["-10"]["sallow"] > trims["+10"]["sallow"] + 0.05
    )  # softer sounds lose their bass first: less of it is cut
