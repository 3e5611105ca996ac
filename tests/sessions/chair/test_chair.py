"""The chair without a web: from the question to the end of every method, and answers that come twice, late or again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

import pytest

from audio.engine.playback import Faults, Position
from audio.errors import DeviceError
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook
from sessions.chair.chair import Chair
from sessions.chair.given import Answered, Press, Pressed, WordSaid
from sessions.listening import disturbances, session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans.methods.table import METHODS
from tests.answered_plans import WISHES, sealed_plan
from tests.casebooks import held
from tests.fakes import SilentPlayer, at_once

RATED = {"words-rated": WISHES["words"] | {"rated": True}}
BALLOT = ("bright", "boomy", "thin", "wide")


@contextmanager
def seated(book: Casebook, player: SilentPlayer, plan: str = "evening", listener: str = "Ada") -> Iterator[Chair]:
    """A listener in the chair of a silent player."""
    with session.begin(book, plan, listener, "none: test") as running:
        person = catalogue.find(book, Listener, listener)
        yield Chair(TrialRunner(running, player, sleep=at_once), person)


def pressed(chair: Chair, do: Press, label: str = "") -> str:
    return chair.press(Pressed(chair.view().trial_id, do, label)).result


def begun(chair: Chair) -> Chair:
    pressed(chair, "begin")
    chair.tick()
    return chair


def heard(chair: Chair, player: SilentPlayer) -> Chair:
    for label in chair.asked.labels:
        assert pressed(chair, "hear", label) == "kept"
        chair.tick()
    return chair


def given(chair: Chair, nonce: str, sureness: int = 3, **other: Any) -> Answered:
    """An answer as a page gives it: the first choice, or marks of all that can be marked."""
    asked = chair.asked
    marks: dict[str, Any] = {
        "choice": {},
        "grades": dict.fromkeys(asked.graded, f"{asked.scale.high:.1f}" if asked.scale else ""),
        "ticks": {label: [asked.words[0]] for label in asked.needed if asked.words},
        "ratings": {label: dict.fromkeys(asked.words, 4) for label in asked.needed},
    }[asked.kind]
    choice = asked.choices[0].key if asked.kind == "choice" else ""
    return Answered(**{"trial": chair.view().trial_id, "nonce": nonce, "sureness": sureness, "choice": choice,
                       "marks": marks} | other)  # fmt: skip


def counted(book: Casebook, table: str) -> int:
    return int(book.query(f"SELECT count(*) AS n FROM {table}")[0]["n"])


@pytest.mark.parametrize("method", [*METHODS, *RATED])
def test_every_method_comes_from_its_question_to_its_end(method: str, book: Casebook) -> None:
    wish = RATED.get(method) or WISHES[method]
    plan = sealed_plan(book, method=method.removesuffix("-rated"), **wish)
    player, met = SilentPlayer(), []
    with seated(book, player) as chair:
        assert chair.view().asking == "question"
        assert chair.asked.question == plan.question
        begun(chair)
        while chair.view().asking == "hear":
            met.append(chair.view().trial)
            heard(chair, player)
            assert chair.answer(given(chair, f"nonce {len(met)}")).result == "kept"
            chair.tick()
        assert chair.view().asking == "end"
    assert met == list(range(1, plan.slots + 1))
    assert counted(book, "answers") == plan.slots
    assert counted(book, "openings") == 1


def test_the_same_answer_again_is_kept_once_and_answered_the_same(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        first = given(heard(begun(chair), player), "one")
        assert chair.answer(first).result == "kept"
        assert chair.answer(first).result == "kept"
        chair.tick()
        assert chair.view().trial == 2
        assert chair.answer(first).result == "kept"  # the second trial is on: it is still the first one's
        heard(chair, player)
        assert chair.answer(first).result == "kept"
        assert chair.view().trial == 2
    assert counted(sealed, "answers") == 1


def test_an_answer_whose_reply_was_lost_with_the_program_is_known_again(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        first = given(heard(begun(chair), player), "one", choice="A")
        assert chair.answer(first).result == "kept"
    with seated(sealed, SilentPlayer()) as chair:
        assert chair.view().answered == 1
        assert chair.answer(first).result == "kept"
        assert chair.answer(given(chair, "two", trial="1-1", choice="B")).result == "late"
        assert chair.answer(given(chair, "three", trial="1-1", choice="A", sureness=1)).result == "late"
    assert counted(sealed, "answers") == 1


def test_an_answer_lost_before_it_was_kept_waits_until_its_trial_was_heard_again(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        lost = given(heard(begun(chair), player), "one")
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        assert chair.answer(lost).result == "later"
        begun(chair)
        assert chair.view().trial_id == lost.trial
        said = chair.answer(lost)
        assert (said.result, said.message) == ("later", "hear X before you answer")
        heard(chair, player)
        assert chair.answer(lost).result == "kept"
    assert counted(sealed, "answers") == 1


def test_a_disturbed_trial_takes_no_answer_and_says_so_each_time(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        first = given(heard(begun(chair), player), "one")
        player.counts = Faults(underruns=2)
        assert [chair.answer(first).result for _ in range(2)] == ["again", "again"]
        chair.tick()
        assert chair.view().trial_id == "1-2"
        assert any("(2 underruns)" in text for text in chair.view().said)
        assert chair.answer(given(chair, "other", trial="1-1")).result == "again"
    assert counted(sealed, "answers") == 0


def test_presses_for_a_trial_that_is_over_do_nothing(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        heard(begun(chair), player)
        chair.answer(given(chair, "one"))
        chair.tick()
        player.asked.clear()
        assert chair.press(Pressed("1-1", "hear", "X")).result == "late"
        assert player.asked == []
        assert chair.press(Pressed("2-1", "hear", "Q")).result == "refused"


@pytest.mark.parametrize(
    ("method", "wrong", "says"),
    [
        ("abx", {"choice": "C"}, "is no answer here"),
        ("abx", {"sureness": 5}, "out of range"),
        ("abx", {"marks": {"Q": "1"}}, "not heard in this trial"),
        ("multi-stimulus", {"marks": {"1": "50"}}, "grade 2 and 3 and 4 and 5 as well"),
        ("multi-stimulus", {"marks": {"1": "101"}}, "is no grade"),
        ("hidden-reference", {"marks": {"1": "4.0", "2": "3.0"}}, "is the reference: give it"),
        ("words", {"marks": {"1": ["loud"]}}, "no word of this ballot"),
        ("words-rated", {"marks": {"1": {"bright": 4}}}, "and 2 more of 1 as well"),
    ],
)
def test_what_is_no_answer_is_refused_in_words(book: Casebook, method: str, wrong: dict[str, Any], says: str) -> None:
    wish = RATED.get(method) or WISHES[method]
    wide = {"setups": ("sallow", "bracken", "sallow-late")} if method == "multi-stimulus" else {}
    sealed_plan(book, method=method.removesuffix("-rated"), **wish, **wide)
    player = SilentPlayer()
    with seated(book, player) as chair:
        said = chair.answer(given(heard(begun(chair), player), "one", **wrong))
        assert said.result == "refused"
        assert says in said.message
    assert counted(book, "answers") == 0


def test_a_word_is_kept_once_with_its_strength_and_note_also_by_a_program_started_anew(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        trial = heard(begun(chair), player).view().trial_id
        word = WordSaid(trial, "one", "boomy 4 (the kick)", "X", 1500)
        assert chair.word(word).result == "kept"
        assert chair.word(word).result == "kept"
        assert chair.word(WordSaid(trial, "two", "thin", "A", 10, 2, "held notes")).result == "kept"
        assert chair.word(WordSaid(trial, "three", "thin 9", "A", 10)).result == "refused"
        assert chair.word(WordSaid(trial, "four", "thin", "Q", 10)).result == "refused"
    with seated(sealed, SilentPlayer()) as chair:
        assert chair.word(word).result == "later"  # kept by the page until the trial is there
        begun(chair)
        assert chair.word(word).result == "kept"
    found = sealed.query("SELECT term, strength, note, stimulus, track_ms, blind FROM words ORDER BY seq")
    assert [tuple(row.values()) for row in found] == [
        ("boomy", 4, "the kick", "X", 1500, 1), ("thin", 2, "held notes", "A", 10, 0)
    ]  # fmt: skip


def test_an_answer_is_held_while_another_program_has_the_casebook(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        sealed.set_busy_timeout(10)
        answer = given(heard(begun(chair), player), "one")
        with held(sealed.folder):
            assert chair.answer(answer).result == "held"
            assert chair.view().asking == "busy"
            assert chair.answer(answer).result == "held"
        chair.runner.write_out()
        chair._tries.last = -100.0  # time to try again
        chair.tick()
        assert chair.answer(answer).result == "kept"
    assert counted(sealed, "answers") == 1


def test_a_trial_disturbed_again_and_again_waits_to_be_asked_for(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        begun(chair)
        for count in range(disturbances.ASKED_FROM):
            player.counts = Faults(underruns=count + 1)
            chair.tick()
            assert chair.view().asking == ("disturbed" if count == disturbances.ASKED_FROM - 1 else "coming")
            chair.tick()
        assert chair.view().asking == "disturbed"
        assert pressed(chair, "try again") == "kept"
        chair.tick()
        assert chair.view().asking == "hear"


def test_a_lost_device_is_waited_for_and_the_session_ends_in_words_if_it_stays_away(sealed: Casebook) -> None:
    now, player = [0.0], SilentPlayer()
    lost = DeviceError("no device 'dac' here")

    def load(*_: object) -> None:
        raise lost

    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        person = catalogue.find(sealed, Listener, "Ada")
        runner = TrialRunner(running, player, sleep=at_once, monotonic=lambda: now[0])
        chair = Chair(runner, person, monotonic=lambda: now[0])
        there, player.load = player.load, load  # type: ignore[method-assign]
        begun(chair)
        assert (chair.view().asking, chair.view().said) == ("device", (str(lost),))
        player.load = there  # type: ignore[method-assign]
        now[0] += 2.0
        chair.tick()
        assert chair.view().asking == "hear"
        assert "the sound is back; this trial starts afresh" in chair.view().said
        player.load = load  # type: ignore[method-assign]
        heard(chair, player)
        chair.answer(given(chair, "one"))
        chair.tick()
        now[0] += 601.0
        with pytest.raises(DeviceError, match="waited for 10 minutes; nothing is lost"):
            chair.tick()


def test_what_is_shown_is_the_same_for_both_keys(sealed: Casebook) -> None:
    player: SilentPlayer = SilentPlayer()
    shown: dict[int, set[str]] = {0: set(), 1: set()}
    with ExitStack() as stack:
        chair = begun(stack.enter_context(seated(sealed, player)))
        shown_of: Callable[[], str] = lambda: json.dumps([chair.asked.__dict__, chair.view().__dict__], default=vars)  # noqa: E731
        while not (shown[0] and shown[1]):
            player.at = Position(None, 0, False)
            heard(chair, player)
            offered = chair.runner.current
            assert offered.offer < 64
            text = shown_of().replace(f'"{chair.trial_id}"', '"TRIAL"').replace(offered.passage.name, "PASSAGE")
            shown[offered.key["X"]].add(text)
            chair.runner._in_a_row = 0
            player.counts = Faults(underruns=player.counts.underruns + 1)
            chair.tick()
            chair.tick()
    assert {len(one) for one in shown.values()} == {1}
    assert shown[0] == shown[1]


def test_a_casebook_in_use_before_the_first_trial_is_waited_for_and_may_be_left(sealed: Casebook) -> None:
    player = SilentPlayer()
    with seated(sealed, player) as chair:
        sealed.set_busy_timeout(10)
        with held(sealed.folder):
            begun(chair)
            assert chair.view().asking == "busy"
            assert chair.view().trial_id == ""
        chair._tries.last = -100.0  # time to try again
        chair.tick()
        assert chair.view().asking == "hear"
    with seated(sealed, player) as chair:
        with held(sealed.folder):
            begun(chair)
        assert pressed(chair, "stop") == "kept"
        assert chair.view().asking == "stopped"
