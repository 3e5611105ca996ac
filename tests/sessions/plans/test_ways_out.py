"""The ways out of a draft that would be void: each would change something, and names what it leaves."""

from __future__ import annotations

import pytest

from sessions.casebook import playback_chain
from sessions.plans.plan import Plan
from sessions.plans.ways_out import ways_out
from tests import records

ACCEPT = (
    "to accept it with your reason in place of WHY (by click alone the listener can tell A from B; a difference "
    "that is heard is then not shown to be the setups'): earwitness edit draft evening --accept click=WHY"
)
ANYWAY = "to seal it all the same, void: earwitness seal evening --anyway"
SETUPS = "--setup sallow --setup bracken"


def draft(*poor: str, residual_lu: str = "0.0100") -> Plan:
    """A draft of the passages strings 1 and strings 2, with a click in some of them."""
    found = [{"kind": "click", "setup": "sallow", "passage": name, "what": "sallow clicks"} for name in poor]
    match = {"sheet": "0" * 64, "by": "bs1770", "residual_lu": residual_lu, "tolerance_lu": "0.1"}
    return records.plan(
        "abx", 8, stated={"giveaways": {"check": "0" * 64, "accepted": [], "open": found}, "match": match}
    )


def test_what_no_mend_helps_is_left_out_or_accepted_and_never_mended() -> None:
    assert ways_out(draft("strings 1"), ("acceptance",)) == [
        "To leave strings 1 out: earwitness edit draft evening --passage 'strings 2'",
        ACCEPT,
        ANYWAY,
    ]


def test_where_every_passage_gives_away_others_take_their_place() -> None:
    assert ways_out(draft("strings 1", "strings 2"), ("acceptance",)) == [
        "To play other passages instead: earwitness passage add TRACK --from M:SS --to M:SS, and then earwitness edit "
        "draft evening --passage NAME",
        ACCEPT,
        ANYWAY,
    ]


@pytest.mark.parametrize(
    ("lacks", "way"),
    [
        ("mend", f"To mend what can be mended: earwitness giveaways --mend {SETUPS}"),
        ("polarity", f"To turn polarity round: earwitness giveaways --mend --polarity {SETUPS}"),
    ],
)
def test_what_a_mend_helps_is_mended_and_not_left_out(lacks: str, way: str) -> None:
    assert ways_out(draft("strings 1"), (lacks,)) == [way, ACCEPT, ANYWAY]


def test_levels_that_are_off_are_matched_again_and_nothing_is_accepted() -> None:
    off = draft(residual_lu="0.2000")
    assert ways_out(off, ()) == [f"To match again: earwitness match files {SETUPS}", ANYWAY]


def test_gear_is_matched_again_by_microphone_or_voltmeter_and_never_mended() -> None:
    chain = playback_chain.routed("box:1,2").to_document()
    setups = [{"setup": name, "name": name, "kind": "real", "chain": chain} for name in ("sallow", "bracken")]
    unchecked = {"check": "none", "accepted": [], "open": []}
    off = Plan(draft(residual_lu="0.2000").document | {"setups": setups, "giveaways": unchecked})
    assert ways_out(off, ()) == [
        f"To match again: earwitness match mic --mic DEVICE:1 {SETUPS}",
        f"or again: earwitness match volts {SETUPS}",
        f"to look for giveaways: earwitness giveaways {SETUPS}",
        ANYWAY,
    ]
