"""The pages in a real Chromium: by touch, by keyboard alone, cut off, killed and started anew, and for everybody."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from audio.errors import DeviceError
from sessions.casebook.store import Casebook
from sessions.chair.sitting_down import House
from sessions.pages.room import HERE_S
from tests.answered_plans import sealed_plan
from tests.browsers import accessible, only_by, phone, press, rows, screen
from tests.fakes import RunningPlayer
from tests.pages import Open, served, silent_house

pytestmark = pytest.mark.browser
WORDS = ("bright", "boomy", "thin")
expect.set_options(timeout=20_000)


@contextmanager
def pages(book: Casebook, chairs: int = 1) -> Iterator[Open]:
    book.close()
    with served(book.folder, chairs) as opened:
        yield opened


def trial(page: Page, number: int, of: int) -> None:
    expect(page.locator("#count")).to_have_text(f"trial {number} of {of}")
    screen(page, "hear")


def plan(book: Casebook, **wish: Any) -> int:
    return sealed_plan(book, **wish).slots


def test_a_whole_abx_by_touch_with_a_word_and_no_serious_fault_on_any_of_its_pages(page: Page, book: Casebook) -> None:
    plan(book, method="abx", trials=5)
    with pages(book) as opened, only_by("touch", page):
        page.goto(opened.address)
        accessible(page)
        page.locator("#code").fill("wrong")
        page.get_by_role("button", name="Come in").tap()
        expect(page.locator("#told")).to_contain_text("not the code")
        page.locator("#code").fill(opened.room.guests.code.lower().replace("-", " "))
        page.get_by_role("button", name="Come in").tap()
        screen(page, "who")
        accessible(page)
        page.get_by_role("button", name="Ada").tap()
        screen(page, "question")
        accessible(page)
        page.get_by_role("button", name="Begin").tap()
        for number in range(1, 6):
            trial(page, number, 5)
            page.get_by_role("button", name="Answer").tap()
            expect(page.locator("#told")).to_have_text("Hear X before you answer.")
            for label in ("A", "X"):
                button = page.locator(".label", has_text=label)
                button.tap()
                expect(button).to_have_attribute("aria-pressed", "true")
            if number == 1:
                accessible(page)
                page.get_by_role("button", name="Note a word").tap()
                accessible(page)
                page.locator("#word").fill("boomy 4 (the kick)")
                page.get_by_role("button", name="Keep the word").tap()
                expect(page.locator("#told")).to_have_text("kept the word: boomy")
                for target in page.locator("button:visible, summary:visible").all():
                    box = target.bounding_box()
                    assert box is not None
                    assert min(box["width"], box["height"]) >= 44
                page.set_viewport_size({"width": 320, "height": 600})
                assert page.evaluate("document.documentElement.scrollWidth") <= 320
            page.get_by_role("button", name="Answer").tap()
            if number == 1:
                accessible(page)
            page.get_by_role("button", name="X is A").tap()
            if number == 1:
                accessible(page)
            page.get_by_role("button", name="fairly sure").tap()
        screen(page, "end")
        accessible(page)
        page.get_by_role("button", name="Done").tap()
        screen(page, "left")
    found = rows(book.folder, "SELECT answer, sureness FROM answers")
    assert [tuple(one.values()) for one in found] == [("A", 3)] * 5
    [word] = rows(book.folder, "SELECT term, strength, note, stimulus FROM words")
    assert word == {"term": "boomy", "strength": 4, "note": "the kick", "stimulus": "X"}


def test_a_whole_abx_by_keyboard_alone_from_the_code_to_the_end_with_a_word(page: Page, book: Casebook) -> None:
    plan(book, method="abx", trials=5)
    with pages(book) as opened, only_by("keyboard", page):
        page.goto(opened.address)
        expect(page.locator("#code")).to_be_focused()
        page.keyboard.type(opened.room.guests.code)
        press(page, "Enter")
        screen(page, "who")
        press(page, "Tab", "Enter")
        screen(page, "question")
        press(page, "Enter")
        for number in range(1, 6):
            trial(page, number, 5)
            for label in ("A", "B", "X"):
                press(page, label.lower())
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
            if number == 1:
                press(page, "p")
                expect(page.locator(".music")).to_contain_text("paused")
                press(page, "p")
                expect(page.locator(".music")).not_to_contain_text("paused")
                press(page, "w")
                screen(page, "word")
                page.keyboard.type("thin 2")
                press(page, "Enter")
                expect(page.locator("#told")).to_have_text("kept the word: thin")
            press(page, "Enter")
            screen(page, "answer")
            if number == 1:  # and thought better of it
                press(page, "Escape", "Enter")
                screen(page, "answer")
            press(page, "b")
            screen(page, "sureness")
            press(page, "3")
        screen(page, "end")
        page.get_by_role("button", name="Done").focus()
        press(page, "Enter")
        screen(page, "left")
    assert [tuple(one.values()) for one in rows(book.folder, "SELECT answer, sureness FROM answers")] == [("B", 3)] * 5
    assert rows(book.folder, "SELECT term, strength FROM words") == [{"term": "thin", "strength": 2}]


def sits_down_by_touch(page: Page, opened: Open) -> None:
    page.goto(opened.chair)
    page.get_by_role("button", name="Ada").tap()
    page.get_by_role("button", name="Begin").tap()


def hears_by_touch(page: Page, label: str) -> None:
    page.locator(".label", has_text=label).tap()
    expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")


def test_a_multi_stimulus_session_by_touch_alone(page: Page, book: Casebook) -> None:
    plan(book, method="multi-stimulus", trials=2, setups=("sallow", "bracken"))
    with pages(book) as opened, only_by("touch", page):
        sits_down_by_touch(page, opened)
        for number in (1, 2):
            trial(page, number, 2)
            hears_by_touch(page, "R")
            for label, share in (("1", 0.0), ("2", 1.0), ("3", 0.5), ("4", 0.25)):
                hears_by_touch(page, label)
                slider = page.get_by_label(f"Grade of {label}")
                box = slider.bounding_box()
                assert box is not None
                assert box["height"] >= 44
                slider.tap(position={"x": min(max(share * box["width"], 1), box["width"] - 1), "y": box["height"] / 2})
                expect(page.get_by_label(f"Number for {label}")).not_to_have_value("")
            page.get_by_label("Number for 4").fill("32")
            page.get_by_role("button", name="Done").tap()
            page.get_by_role("button", name="leaning").tap()
        screen(page, "end")
    for one in rows(book.folder, "SELECT answer FROM answers"):
        grades = {label: int(grade) for label, grade in json.loads(one["answer"]).items()}
        assert (grades["1"], grades["2"], grades["4"]) == (0, 100, 32)
        assert grades["3"] in range(48, 53)  # where the slider stood, which says nothing until it is touched


@pytest.mark.parametrize("rated", [False, True])
def test_a_words_ballot_by_touch_alone(page: Page, book: Casebook, rated: bool) -> None:
    slots = plan(book, method="words", trials=2, words=WORDS, rated=rated)
    with pages(book) as opened, only_by("touch", page):
        sits_down_by_touch(page, opened)
        for number in range(1, slots + 1):
            trial(page, number, slots)
            for label in ("1", "2"):
                hears_by_touch(page, label)
                for word, rating in zip(WORDS, (3, 9, 0), strict=True) if rated else ():
                    page.locator(".word", has_text=word).tap()
                    page.get_by_role("button", name=f"{rating} for {word} of {label}").tap()
                if not rated and label == "2":
                    page.locator(".word", has_text="boomy").tap()
                    page.locator(".word", has_text="thin").tap()
                    page.locator(".word", has_text="thin").tap()
            page.get_by_role("button", name="Done").tap()
            page.get_by_role("button", name="certain").tap()
        screen(page, "end")
    found = [json.loads(one["answer"]) for one in rows(book.folder, "SELECT answer FROM answers")]
    rates = {"bright": 3, "boomy": 9, "thin": 0}
    assert found == [{"1": rates, "2": rates} if rated else {"1": [], "2": ["boomy"]}] * slots


def test_a_preference_session_by_keyboard_alone(page: Page, book: Casebook) -> None:
    plan(book, method="preference", trials=2)
    with pages(book) as opened, only_by("keyboard", page):
        page.goto(opened.chair)
        screen(page, "who")
        press(page, "Tab", "Enter")
        screen(page, "question")
        press(page, "Enter")
        for number in (1, 2):
            trial(page, number, 2)
            for label in ("1", "2"):
                press(page, label)
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
            press(page, "Enter")
            screen(page, "answer")
            press(page, str(number))
            screen(page, "sureness")
            press(page, "1")
        screen(page, "end")
    assert [one["answer"] for one in rows(book.folder, "SELECT answer FROM answers ORDER BY seq")] == ["1", "2"]


def typed(label: str) -> list[str]:
    """A number beside the slider, by keys; the last one is mended, since 148 is no grade."""
    return [
        "g",
        *{"1": "0", "2": "100", "3": "51", "4": "148"}[label],
        "Enter",
        *(["4", "8", "Enter"] if label == "4" else []),
    ]


def test_a_multi_stimulus_session_by_keyboard_alone_in_the_dark(page: Page, book: Casebook) -> None:
    plan(book, method="multi-stimulus", trials=2, setups=("sallow", "bracken"))
    page.emulate_media(color_scheme="dark")
    with pages(book) as opened, only_by("keyboard", page):
        page.goto(opened.chair)
        screen(page, "who")
        press(page, "Tab", "Enter")
        screen(page, "question")
        accessible(page)
        press(page, "Enter")
        for number in (1, 2):
            trial(page, number, 2)
            press(page, "r")
            for label, moves in (
                ("1", ["Home"]),
                ("2", ["End"]),
                ("3", ["ArrowUp"]),
                ("4", ["ArrowDown", "ArrowDown"]),
            ):
                press(page, label)
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
                expect(page.get_by_label(f"Grade of {label}")).to_be_focused()
                press(page, *(moves if number == 1 else typed(label)))
            if number == 1:
                accessible(page)
            press(page, "Enter")
            screen(page, "sureness")
            press(page, "2")
        screen(page, "end")
    found = rows(book.folder, "SELECT answer, sureness FROM answers")
    assert [json.loads(one["answer"]) for one in found] == [{"1": "0", "2": "100", "3": "51", "4": "48"}] * 2


@pytest.mark.parametrize("rated", [False, True])
def test_a_words_ballot_by_keyboard_alone(page: Page, book: Casebook, rated: bool) -> None:
    slots = plan(book, method="words", trials=2, words=WORDS, rated=rated)
    with pages(book) as opened, only_by("keyboard", page):
        page.goto(opened.chair)
        screen(page, "who")
        press(page, "Tab", "Enter")
        screen(page, "question")
        press(page, "Enter")
        for number in range(1, slots + 1):
            trial(page, number, slots)
            for label in ("1", "2"):
                press(page, " " if rated else label)
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
                for digit in ("3", "9", "0") if rated else ():
                    press(page, digit)
                if not rated and label == "2":
                    press(page, "Home", " ", "End", " ", " ")
            if number == 1:
                accessible(page)
            page.locator("h1").focus()
            press(page, "Enter")
            screen(page, "sureness")
            press(page, "4")
        screen(page, "end")
    found = [json.loads(one["answer"]) for one in rows(book.folder, "SELECT answer FROM answers")]
    assert len(found) == slots
    for one in found:
        if rated:
            assert [sorted(ratings.values()) for ratings in one.values()] == [[0, 3, 9]] * 2
        else:
            assert (len(one["1"]), len(one["2"])) == (0, 1)


def test_two_browsers_at_once_and_the_desk_that_sees_how_far_they_are(chromium: Browser, book: Casebook) -> None:
    plan(book, method="preference", trials=2, listeners=("Ada", "Grace"))
    with pages(book, chairs=2) as opened, phone(chromium) as ada, phone(chromium) as grace, phone(chromium) as desk:
        desk.goto(opened.desk)
        expect(desk.get_by_role("row", name="Ada")).to_contain_text("not here")
        accessible(desk)
        for listener, page in (("Ada", ada), ("Grace", grace)):
            page.goto(opened.chair)
            page.get_by_role("button", name=listener).tap()
            page.get_by_role("button", name="Begin").tap()
        for number in (1, 2):
            for page, prefers in ((ada, "Sound 1"), (grace, "Sound 2")):
                trial(page, number, 2)
                for label in ("1", "2"):
                    page.locator(".label", has_text=label).tap()
                    expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
                page.get_by_role("button", name="Answer").tap()
                page.get_by_role("button", name=prefers).tap()
                page.get_by_role("button", name="certain").tap()
            if number == 1:
                expect(desk.get_by_role("row", name="Ada")).to_contain_text("1 of 2")
                expect(desk.locator("#standing_more")).to_contain_text(
                    "Ada: 1 of 2 trials answered"
                )  # nobody loaded it
        screen(ada, "end")
        screen(grace, "end")
        for listener in ("Ada", "Grace"):
            expect(desk.get_by_role("row", name=listener)).to_contain_text("has answered all")
        said = desk.locator("#room").inner_text()
    for secret in ("sallow", "bracken"):
        assert secret not in said
    joined = "answers JOIN trials ON trials.id = trial_id JOIN sessions ON sessions.id = session_id"
    sql = f"SELECT listener_id, answer FROM {joined}"
    found = [(one["listener_id"], one["answer"]) for one in rows(book.folder, sql)]
    assert sorted(answer for _, answer in found) == ["1", "1", "2", "2"]
    assert len(set(found)) == 2


def test_why_a_chair_could_not_be_opened_stands_once_and_goes_and_a_session_is_stopped_by_keyboard(
    page: Page, book: Casebook
) -> None:
    plan(book, method="abx", trials=2)
    book.close()
    absent = ["the box is not there; switch it on"]

    def house_of(folder: Path) -> House:
        def player(*_: object) -> AbstractContextManager[RunningPlayer]:
            if absent:
                raise DeviceError(absent.pop())
            return nullcontext(RunningPlayer())

        return replace(silent_house(folder), open_player=player)

    with served(book.folder, house_of=house_of) as opened:
        page.goto(opened.chair)
        page.get_by_role("button", name="Ada").tap()
        expect(page.locator("#sheet .note")).to_have_text("the box is not there; switch it on")
        expect(page.locator("#told")).to_have_text("")
        page.locator("#told").evaluate(
            "(node) => (node.textContent = 'the box is not there')"
        )  # as one lost on its way
        page.get_by_role("button", name="Try again").tap()
        screen(page, "question")
        expect(page.locator("#told")).to_have_text("")
        press(page, "Enter")
        trial(page, 1, 2)
        press(page, "q")
        expect(page.get_by_role("button", name="Stop").locator("kbd")).to_have_text("Enter")
        press(page, "Enter")
        expect(page.locator("h1")).to_have_text("You left the chair.")


def test_a_network_that_is_cut_while_an_answer_is_sent_heals_without_losing_or_doubling_it(
    page: Page, book: Casebook
) -> None:
    plan(book, method="abx", trials=5)
    with pages(book) as opened:
        page.goto(opened.chair)
        page.get_by_role("button", name="Ada").tap()
        page.get_by_role("button", name="Begin").tap()
        for number, cut in ((1, before_it_arrives), (2, after_it_arrived)):
            trial(page, number, 5)
            page.locator(".label", has_text="X").tap()
            page.get_by_role("button", name="Answer").tap()
            page.get_by_role("button", name="X is B").tap()
            with cut(page):
                page.get_by_role("button", name="leaning").tap()
                expect(page.locator("#connection")).to_have_text(
                    "Not connected. Trying again. What you answered is kept here."
                )
                if number == 1:
                    accessible(page)
        trial(page, 3, 5)
        expect(page.locator("#connection")).to_be_hidden()
    assert [one["answer"] for one in rows(book.folder, "SELECT answer FROM answers")] == ["B", "B"]


@contextmanager
def before_it_arrives(page: Page) -> Iterator[None]:
    page.context.set_offline(True)
    yield
    page.context.set_offline(False)


@contextmanager
def after_it_arrived(page: Page) -> Iterator[None]:
    """What is sent arrives; its answer does not."""

    def swallowed(route: Any) -> None:
        route.fetch()
        route.abort()

    page.route("**/chair/answer", swallowed)
    page.route("**/chair/now", lambda route: route.abort())
    yield
    page.unroute_all(behavior="wait")


def test_the_assistant_reads_what_to_swap_and_says_by_one_key_that_it_is_done(page: Page, swapped: Casebook) -> None:
    sealed, said = sealed_plan(swapped, method="abx", trials=8, operator="Bo"), list[bool]()
    with pages(swapped) as opened:
        page.goto(f"{opened.address}/assist")
        expect(page.get_by_role("heading", name="The assistant has a page of their own")).to_be_visible()
        accessible(page)
        page.locator("#code").fill(opened.room.guests.assistant_code)
        press(page, "Enter")
        expect(page.get_by_role("heading", name="No session runs yet")).to_be_visible()
        with opened.room.house.assistants.line(sealed, "Ada") as line:
            for place, name in ((0, "sallow"), (1, "bracken")):
                asked = threading.Thread(target=lambda place=place: said.append(line.ask(place, 30.0)))
                asked.start()
                expect(page.get_by_role("heading", name=f"cables to {name}")).to_be_focused()
                press(page, "Tab")
                expect(page.get_by_role("button", name="Done, I sit again")).to_be_focused()
                accessible(page)
                press(page, "Enter")
                asked.join()
    assert said == [True, True]


def test_somebody_whose_page_is_lost_goes_on_at_another(page: Page, chromium: Browser, book: Casebook) -> None:
    plan(book, method="abx", trials=5)
    with pages(book) as opened, phone(chromium) as lost:
        lost.goto(opened.chair)
        lost.get_by_role("button", name="Ada").tap()
        lost.get_by_role("button", name="Begin").tap()
        trial(lost, 1, 5)
        lost.goto("about:blank")
        page.goto(opened.chair)
        expect(page.get_by_role("button", name="Ada")).to_be_disabled()
        for guest in opened.room.guests.inside.values():
            guest.seen -= HERE_S if guest.claim else 0  # as long ago as it takes
        page.get_by_role("button", name="Ada").tap()
        accessible(page)
        page.get_by_role("button", name="Yes, I am Ada").tap()
        trial(page, 1, 5)


class Started:
    """Pages in a process of their own, that can be killed and started anew on the same port."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.port, self.code = 0, ""
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "tests.pages", str(self._folder), str(self.port)]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        port, self.code = self._process.stdout.readline().split()
        self.port = int(port)

    def kill(self) -> None:
        os.kill(self._process.pid, signal.SIGKILL)
        self._process.wait()
        assert self._process.stdout is not None
        self._process.stdout.close()


@pytest.fixture
def start() -> Iterator[Callable[[Path], Started]]:
    running: list[Started] = []

    def started(folder: Path) -> Started:
        running.append(Started(folder))
        return running[-1]

    yield started
    for one in running:
        one.kill()


def test_a_server_killed_in_the_middle_goes_on_at_that_trial_with_nothing_lost_or_doubled(
    page: Page, book: Casebook, start: Callable[[Path], Started]
) -> None:
    plan(book, method="abx", trials=5)
    book.close()
    server = start(book.folder)
    page.goto(f"http://127.0.0.1:{server.port}/#{server.code}")
    page.get_by_role("button", name="Ada").tap()
    page.get_by_role("button", name="Begin").tap()
    trial(page, 1, 5)
    page.locator(".label", has_text="X").tap()
    page.get_by_role("button", name="Answer").tap()
    page.get_by_role("button", name="X is A").tap()
    page.get_by_role("button", name="certain").tap()
    trial(page, 2, 5)
    page.locator(".label", has_text="X").tap()
    page.get_by_role("button", name="Answer").tap()
    page.get_by_role("button", name="X is B").tap()
    server.kill()
    page.get_by_role("button", name="a guess").tap()
    expect(page.locator("#connection")).to_be_visible()
    server.start()
    sent = list[int]()
    page.on("response", lambda one: sent.append(one.status) if one.url.endswith("/chair/answer") else None)
    page.reload()  # what waits outlives the page, too
    expect(page.locator("#held")).to_have_text(
        "Your answer to trial 2 is kept on this page. Go on, and hear X again; then it is sent."
    )
    page.get_by_role("button", name="Go on with trial 2 of 5").tap()
    expect(page.get_by_text("Your answer is kept here and sent as soon as you hear X again.")).to_be_visible()
    page.locator(".label", has_text="X").tap()
    trial(page, 3, 5)
    assert sent[-2:] == [503, 200]  # asked once whether it is kept already, and not again before it is heard
    assert len(sent) <= 3  # the page before it was loaded anew may have asked, too
    expect(page.locator("#held")).to_be_hidden()
    found = rows(book.folder, "SELECT trial, answer, sureness FROM answers JOIN trials ON trials.id = trial_id")
    assert [tuple(one.values()) for one in found] == [(1, "A", 4), (2, "B", 1)]
    marks = rows(book.folder, "SELECT what FROM session_marks")
    assert [one["what"] for one in marks] == ["begun", "taken up"]
