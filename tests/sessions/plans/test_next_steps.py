"""What comes next, of where a casebook stands: never what would end in a void verdict without a word about it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sessions.plans import next_steps
from sessions.plans.accepted_kinds import to_leave_out
from sessions.plans.standings import DRAFT, Overview, PassageStanding, PlanStanding, SetupStanding, UnplannedStanding

NAMES = ("song 1", "song 2", "dance 1")
PASSAGE = PassageStanding("song 1", "song", 0.0, 20.0, "", "ok", ("a", "b"), 0.0, 0.1, "clean", 0)
SETUPS = tuple(SetupStanding(name, "files", "recordings", "", ("song", "dance"), (), ()) for name in ("a", "b"))
POOR = PlanStanding(
    "abx-1", "abx", DRAFT, "", "", "", ("a", "b"), (), lacks=("acceptance",), unaccepted=("click", "hum")
)
GIVEN_UP = "by click alone the listener can tell A from B; a difference that is heard is then not shown to be"


def stands(*passages: PassageStanding, plans: tuple[PlanStanding, ...] = ()) -> Overview:
    return Overview("book", SETUPS, ("song", "dance"), passages, ("Ada",), plans)


def test_passages_that_give_away_are_left_out_first_and_accepted_second() -> None:
    draft = replace(POOR, poor=("song 2",), sound=("song 1", "dance 1"))
    first, second = next_steps.of_plan(stands(plans=(draft,)), draft)
    assert first.words == ("edit", "draft", "abx-1", "--passage", "song 1", "--passage", "dance 1")
    assert "song 2" in first.what
    assert second.words == ("edit", "draft", "abx-1", "--accept", "click=WHY", "--accept", "hum=WHY")
    assert GIVEN_UP in second.what


def test_where_all_passages_give_away_none_is_left_out() -> None:
    draft = replace(POOR, poor=NAMES)
    [only] = next_steps.of_plan(stands(plans=(draft,)), draft)
    assert only.words[:4] == ("edit", "draft", "abx-1", "--accept")
    assert "play other passages" in only.what
    assert GIVEN_UP in only.what


@pytest.mark.parametrize(
    ("passage", "words"),
    [
        (PASSAGE, ("plan", "abx", "--passage", "song 1", "--listener", "Ada")),
        (
            replace(PASSAGE, check="found", found=("channels",)),
            ("plan", "abx", "--passage", "song 1", "--listener", "Ada", "--accept", "channels=WHY"),
        ),
        (
            replace(PASSAGE, check="found", found=("polarity",), repairs=("polarity",)),
            ("giveaways", "--mend", "--polarity", "--passage", "song 1"),
        ),
        (
            replace(PASSAGE, check="found", found=("channels",), accepted=("channels",)),
            ("plan", "abx", "--passage", "song 1", "--listener", "Ada"),
        ),
    ],
)
def test_a_plan_of_its_own_is_told_with_what_would_make_it_void(
    passage: PassageStanding, words: tuple[str, ...]
) -> None:
    step = next_steps.of_its_own(stands(passage), UnplannedStanding("song 1", "song", "abx-1", "abx", ("Ada",), False))
    assert step.words == words
    assert ("void" in step.what) == ("by channels alone" in step.what) == ("--accept" in words)


def test_what_can_be_mended_comes_before_a_plan() -> None:
    mendable = replace(PASSAGE, check="found", found=("polarity",), repairs=("polarity",))
    assert next_steps.waiting(stands(mendable))[0].words == ("giveaways", "--mend", "--polarity")
    assert next_steps.waiting(stands(PASSAGE))[0].words[:2] == ("plan", "abx")


def test_where_all_passages_hiss_the_one_that_clicks_as_well_is_left_out() -> None:
    """A hiss in all of them can be accepted for what it is; a click is of one recording of the music."""
    hiss = {name: ["noise-floor"] for name in NAMES}
    assert to_leave_out(hiss) == ()
    assert to_leave_out(hiss | {"song 2": ["noise-floor", "click"]}) == ("song 2",)
    assert to_leave_out({name: ["click"] for name in NAMES}) == ()
    assert to_leave_out(hiss | {"song 1": []}) == NAMES[1:]
