"""Training on a plan's music: what is told and kept, that it never counts, and what stands of it beside the verdict."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from audio import artefacts
from audio.engine.playback import Position
from audio.known_difference import Lift
from sessions.casebook import catalogue, threshold_rows, training_rows
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook, open_casebook
from sessions.chair.given import Answered, Pressed, Said
from sessions.chair.training_chair import TrainingChair, TrainingView
from sessions.commands import keyboard
from sessions.commands.training_page import TrainingPage
from sessions.errors import ListenError, PlanError
from sessions.listening import session, threshold_run, training_ground, training_sounds
from sessions.listening.threshold_listening import ThresholdListening
from sessions.listening.training_sounds import TrainingSounds
from sessions.measured import own_training
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.report import contents
from sessions.results import practised, verification
from tests.answered_plans import answer_all
from tests.casebooks import chain_holds
from tests.command_line import earwitness
from tests.fakes import SilentPlayer, at_once

LIFT = artefacts.named("lift-4000")


@pytest.fixture
def sounds(sealed: Casebook) -> TrainingSounds:
    ground = training_ground.of(sealed, "evening")
    assert LIFT is not None
    return training_sounds.of_passage(sealed, "evening", ground.setup, ground.passages[0], LIFT, "none: test")


@pytest.fixture
def player() -> SilentPlayer:
    return SilentPlayer()


@pytest.fixture
def listening(sealed: Casebook, sounds: TrainingSounds, player: SilentPlayer) -> Iterator[ThresholdListening]:
    ground = training_ground.of(sealed, "evening")
    ada = catalogue.find(sealed, Listener, "Ada")
    with threshold_run.begin(sealed, ada, ground.setup, sounds.sought, anew=True, draw=lambda count: 1) as run:
        yield ThresholdListening(run, player, sounds, sleep=at_once)
        if not run.over:
            run.mark("stopped")


@pytest.fixture
def chair(listening: ThresholdListening) -> TrainingChair:
    made = TrainingChair(listening, listening.run)
    made.press(Pressed("", "begin"))
    made.tick()
    return made


def heard(chair: TrainingChair, player: SilentPlayer) -> None:
    for place, label in enumerate("ABC"):
        chair.press(Pressed(chair.trial_id, "hear", label))
        player.at = Position(place, 4800, True)
        chair.tick()


def answered(chair: TrainingChair, label: str, nonce: str) -> Said:
    return chair.answer(Answered(chair.trial_id, nonce, 1, label))


def test_the_music_is_the_matched_passage_and_one_size_of_the_artefact(
    sealed: Casebook, sounds: TrainingSounds, chair: TrainingChair, player: SilentPlayer
) -> None:
    plain, changed, again = player.loaded[0]
    np.testing.assert_array_equal(plain, again)
    np.testing.assert_array_equal(changed, sounds.sounds[1 + 7])  # 6 dB first
    assert chair.view().size == "6 dB"  # type: ignore[attr-defined]
    assert sounds.sought.gain_db <= 0


def test_nothing_tells_which_is_changed_before_it_is_answered_and_then_it_is_told_once(
    sealed: Casebook, chair: TrainingChair, player: SilentPlayer
) -> None:
    assert answered(chair, "B", "early").result == "later"  # none was heard yet
    heard(chair, player)
    view = chair.view()
    assert isinstance(view, TrainingView)
    assert (view.told, view.changed, view.heard) == ("", "", ("A", "B", "C"))
    trial = chair.trial_id
    said = answered(chair, "B", "one")
    assert said.result == "kept"
    assert said.message == "Right. B was changed: more presence (octave around 4 kHz), 6 dB."
    assert chair.answer(Answered(trial, "one", 1, "B")) == said  # the same again
    assert chair.answer(Answered(trial, "two", 1, "A")).result == "late"
    view = chair.view()
    assert isinstance(view, TrainingView)
    assert (view.changed, view.answered, view.right, view.smallest) == ("B", 1, 1, "6 dB")
    chair.press(Pressed(chair.trial_id, "next"))
    chair.tick()
    assert chair.view().size == "4.5 dB"  # type: ignore[attr-defined]
    heard(chair, player)
    assert answered(chair, "C", "three").message.startswith("Not this time. B was changed")
    kept = training_rows.answers(sealed, catalogue.find(sealed, Listener, "Ada").id)
    assert [(one.size, one.right) for one in kept] == [(7, True), (6, False)]
    assert threshold_rows.every(sealed) == []  # no threshold was looked for
    chain_holds(sealed)
    assert verification.verify(sealed).broken == []


def test_a_run_ends_by_its_rule_and_an_edited_one_is_found(
    sealed: Casebook, chair: TrainingChair, player: SilentPlayer
) -> None:
    number = 0
    while chair.asking != "end":
        heard(chair, player)
        answered(chair, "B" if number % 3 < 2 else "A", str(number))
        chair.press(Pressed(chair.trial_id, "next"))
        chair.tick()
        number += 1
    [kept] = training_rows.every(sealed)
    assert kept.complete
    assert chair.view().said[0].endswith("Training never counts.")
    assert own_training.faults(kept) == []
    turned = [
        one if trial != 3 else type(one)(one.size, one.changed, (one.named + 1) % 3)
        for trial, one in enumerate(kept.answers)
    ]
    assert "where the answers before it lead elsewhere" in own_training.faults(replace(kept, answers=tuple(turned)))[0]


def test_what_was_practised_before_the_trials_stands_beside_the_verdict(
    sealed: Casebook, chair: TrainingChair, player: SilentPlayer
) -> None:
    heard(chair, player)
    answered(chair, "B", "one")
    plan, ada = seals.sealed_plan(sealed, "evening").plan, catalogue.find(sealed, Listener, "Ada")
    practice = session.Rehearsal(session.PRACTICE, 3)
    with session.begin_rehearsal(sealed, plan, ada, practice, "none: test") as running:
        for _ in range(2):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, "A", 1, 900)
    [found] = practised.practised(sealed, plan)
    assert found.before is not None
    assert found.before.words.startswith(
        "2 trials in 1 practice of this plan and 1 trial of training on its music (more presence (octave around 4 kHz))"
    )
    answer_all(sealed, 1.0, most=3)
    chair.press(Pressed(chair.trial_id, "next"))
    chair.tick()
    heard(chair, player)
    answered(chair, "B", "two")
    answer_all(sealed, 1.0)
    chair.press(Pressed(chair.trial_id, "next"))
    chair.tick()
    heard(chair, player)
    answered(chair, "B", "after the end")  # it could change no answer
    [found] = practised.practised(sealed, plan)
    assert found.before is not None
    assert found.between is not None
    assert (found.before.practice_trials, found.before.training_trials) == (2, 1)
    assert (found.between.practice_trials, found.between.training_trials) == (0, 1)
    told = earwitness(sealed.folder, "verdict", "evening", "--json")
    document = json.loads(told.stdout)
    document = document[0] if isinstance(document, list) else document
    stated = json.dumps(document)
    assert '"practice_trials": 2' in stated
    people = earwitness(sealed.folder, "verdict", "evening").stdout
    assert "Before their own first trial Ada had practised: 2 trials in 1 practice of this plan" in people
    assert "Between their own trials Ada practised: 1 trial of training" in people
    assert any("practised: 2 trials in 1 practice" in one for one in contents._known_before(sealed, plan))  # the report


def test_a_draft_can_be_trained_for_and_what_is_not_there_is_said(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", ("bracken", "sallow"), listeners=("Ada",), trials=8), "later")
    ground = training_ground.of(casebook, "later")
    assert (ground.setup.name, ground.listeners) == ("bracken", ("Ada",))
    assert [one.plan for one in training_ground.drafts(casebook)] == ["later"]
    with pytest.raises(PlanError, match="no plan 'never'"):
        training_ground.of(casebook, "never")
    with pytest.raises(ListenError, match="plays no passage 'flutes'"):
        ground.passage("flutes")


def test_at_a_terminal_the_page_tells_after_each_answer(listening: ThresholdListening, player: SilentPlayer) -> None:
    page = TrainingPage(listening, "Ada: more presence (TRAINING)")
    page.bring()
    for place, key in enumerate("abc"):
        page.turn(key)
        player.at = Position(place, 4800, True)
        page.poll()
    page.turn(keyboard.ENTER)
    assert page.named_by("a")
    assert page.asked().startswith("Not this time. B was changed: more presence")
    assert [said for _, said in page.presentations()] == ["as it is", "changed", "as it is"]
    assert "trial 1" in page.head()
    page.turn(keyboard.ENTER)
    assert page.asking == "next"
    page.bring()
    assert "trial 2  ·  9 dB" in page.head()


def test_the_command_lists_what_can_be_trained_and_refuses_in_a_line(sealed: Casebook) -> None:
    folder = sealed.folder
    sealed.close()
    listed = earwitness(folder, "train")
    assert "lift-4000" in listed.stdout
    refused = earwitness(folder, "train", "evening", "--artefact", "wobble")
    assert refused.returncode == 2
    assert "no artefact 'wobble'" in refused.stderr
    refused = earwitness(folder, "train", "evening", "--artefact", "hiss", "--listener", "Bo")
    assert refused.returncode == 2
    assert "'Bo' is no listener of plan 'evening'" in refused.stderr
    with open_casebook(folder) as casebook:
        assert casebook.query("SELECT count(*) AS n FROM sessions") == [{"n": 0}]


def test_a_band_of_which_the_passage_holds_next_to_nothing_is_refused(sealed: Casebook) -> None:
    ground, treble = training_ground.of(sealed, "evening"), artefacts.named("cut-8000")
    assert treble is not None
    nothing = replace(treble, make=lambda size: Lift(8000, -size / 100))
    with pytest.raises(ListenError, match="holds too little there"):
        training_sounds.of_passage(sealed, "evening", ground.setup, ground.passages[0], nothing, "none: test")
