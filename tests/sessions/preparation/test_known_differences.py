"""The prepared files of known differences: made from the first setup's, sealed with the plan, made once."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from audio import known_difference
from audio.errors import PassageError
from audio.files import reading
from audio.known_difference import Step
from audio.levels.loudness import measure_file
from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.plans import drafting, seals
from sessions.plans.plan_parts import OCTAVES, KnownDifference
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check
from sessions.preparation.selection import select
from tests.answered_plans import PAIR, sealed_plan
from tests.real_gear import match_volts

LIFT: dict[str, Any] = {"method": "abx", "trials": 8, "known": 8, "lift_hz": 2000, "lift_db": "1.0"}


def test_a_plan_seals_the_known_difference_of_every_passage_and_states_what_is_left(book: Casebook) -> None:
    plan = sealed_plan(book, **LIFT)
    stated = plan.document["known"]
    assert stated == {
        "trials": 8, "lift_hz": 2000, "lift_db": "1.0", "octaves": "1", "residual_lu": stated["residual_lu"],
        "change_db": stated["change_db"],
    }  # fmt: skip
    left, changes = [], []
    for passage in plan.passages:
        first, known = (book.prepared / passage.files[one] for one in (plan.setups[0].id, KnownDifference.ID))
        assert reading.sha256(known) == passage.audio[KnownDifference.ID]
        one, other = reading.read(first), reading.read(known)
        assert other.samples.shape == one.samples.shape
        assert other.rate_hz == one.rate_hz
        assert not np.array_equal(one.samples, other.samples)
        assert known.stat().st_size == first.stat().st_size
        levels = [measure_file(path).integrated_lufs for path in (first, known)]
        left.append(abs(levels[1] - levels[0]))
        changes.append(known_difference.change_db(first, known))
    assert float(stated["residual_lu"]) == pytest.approx(max(left), abs=1e-4)
    assert float(stated["change_db"]) == pytest.approx(min(changes), abs=0.051)  # the passage where it does least
    assert Decimal(stated["residual_lu"]) < Decimal(plan.match.tolerance_lu)


def test_a_step_is_stated_as_such_and_is_one(book: Casebook) -> None:
    plan = sealed_plan(book, method="triangle", trials=6, known=6, step_db="-1.5")
    assert {**plan.document["known"], "residual_lu": ""} == {"trials": 6, "step_db": "-1.5", "residual_lu": ""}
    first, known = (book.prepared / plan.passages[0].files[one] for one in (plan.setups[0].id, "known"))
    levels = [measure_file(path).integrated_lufs for path in (first, known)]
    assert levels[1] - levels[0] == pytest.approx(-1.5, abs=0.01)


def test_it_is_made_from_the_first_setup_named(book: Casebook) -> None:
    files = [
        sealed_plan(book, f"evening {n}", setups=setups, **LIFT).passages[0].files["known"]
        for n, setups in enumerate((PAIR, PAIR[::-1]))
    ]
    assert files[0] != files[1]


def test_made_again_it_is_the_same_file_which_is_left_as_it_is(book: Casebook) -> None:
    made = drafting.draft(book, Wish(setups=PAIR, listeners=("Ada",), **LIFT), "evening")
    before = {path: path.stat() for path in book.prepared.iterdir()}
    assert drafting.drafted(book, "evening") == made
    assert {path: path.stat() for path in book.prepared.iterdir()} == before


@pytest.mark.parametrize("when", ["before it is planned", "before it is sealed"])
@pytest.mark.parametrize("wish", [LIFT, {"method": "multi-stimulus", "trials": 4}])
def test_what_lies_under_its_name_is_what_was_made_or_it_is_made_again(
    book: Casebook, when: str, wish: dict[str, Any]
) -> None:
    """Somebody lays a louder file in its place: under the name that it has now, and that it will have."""
    first = drafting.draft(book, Wish(setups=PAIR, listeners=("Ada",), **wish), "evening")
    made = [KnownDifference.ID] if first.known else [anchor.id for anchor in first.anchors]
    honest = {book.prepared / part.files[one]: part.audio[one] for part in first.passages for one in made}
    for path in honest:
        known_difference.write("drums", path, path, Step(-3.0), by="bs1770", seed=b"other")
        assert reading.sha256(path) != honest[path]
    if when == "before it is planned":
        drafting.draft(book, Wish(setups=PAIR, listeners=("Ada",), **wish), "another")
    sealed = seals.seal(book, "evening").plan
    assert [part.files for part in sealed.passages] == [part.files for part in first.passages]
    assert {book.prepared / part.files[one]: part.audio[one] for part in sealed.passages for one in made} == honest
    assert {path: reading.sha256(path) for path in honest} == honest


def test_what_would_clip_leaves_no_draft(book: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(known_difference, "CEILING_DBTP", -10.0)  # the demo's music is quiet
    with pytest.raises(PassageError, match=r"known difference of 12 dB would reach .* a step of \d\.\d dB fits"):
        drafting.draft(book, Wish("abx", PAIR, listeners=("Ada",), known=8, step_db="12"))
    assert book.query("SELECT * FROM drafts") == []


def test_one_that_is_not_as_loud_as_the_tolerance_asks_is_refused(
    book: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known_difference, "left_db", lambda *_: 0.2)
    with pytest.raises(PlanError, match=r"is 0\.20 LU off what was wanted, more than the 0\.1 LU allowed"):
        drafting.draft(book, Wish(setups=PAIR, listeners=("Ada",), **LIFT))


@pytest.mark.parametrize(
    ("known", "says"),
    [
        (KnownDifference(8, 2000, "1.0"), "a lift of 1 dB around 2 kHz"),
        (KnownDifference(8, 125, "2.5", change_db="-31.4"), "a lift of 2.5 dB around 125 Hz"),
        (KnownDifference(8, 1250, "3"), "a lift of 3 dB around 1.25 kHz"),
        (KnownDifference(8, step_db="1.0"), "a level step of 1 dB"),
        (KnownDifference(8, step_db="-0.5"), "a level step of 0.5 dB down"),
    ],
)
def test_it_has_words_and_comes_back_from_its_document(known: KnownDifference, says: str) -> None:
    assert known.in_words == says
    assert KnownDifference.of(known.to_document()) == known
    assert OCTAVES == 1


def test_setups_on_routes_may_have_one(routed: Casebook) -> None:
    match_volts(routed)
    giveaway_check.check(routed, select(routed, [], []))
    plan = sealed_plan(routed, method="abx", setups=(), trials=4, known=4, lift_hz=2000, lift_db="3")
    for passage in plan.passages:
        assert reading.sha256(routed.prepared / passage.files["known"]) == passage.audio["known"]


def test_setups_behind_a_switch_are_refused(swapped: Casebook) -> None:
    """Both sounds of a known trial are the first setup's: a relay that keeps still could be heard."""
    with pytest.raises(PlanError, match="behind a switch"):
        drafting.draft(swapped, Wish("abx", listeners=("Ada",), operator="Bo", known=4, trials=4, step_db="-1"))
