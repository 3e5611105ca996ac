"""A session whose sound comes from the listener's browser, in a real Chromium."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from sessions.casebook.store import Casebook, open_casebook
from tests import pages
from tests.pages import Open

pytestmark = pytest.mark.browser


expect.set_options(timeout=20000)  # a busy machine is no failure


@pytest.fixture
def served(sealed: Casebook) -> Iterator[Open]:
    sealed.close()
    with pages.served(sealed.folder, house_of=pages.own_sound_house) as opened:
        yield opened


@pytest.fixture
def page(chromium: Browser, served: Open) -> Iterator[Page]:
    opened = chromium.new_page()
    opened.set_default_timeout(20000)
    errors: list[str] = []
    opened.on("pageerror", lambda error: errors.append(str(error)))
    opened.add_init_script(
        "const Own = AudioContext;"
        "window.AudioContext = class extends Own {"
        "  constructor(given) { super({...given, sampleRate: 44100}); window.sound = this; }"
        "};"
    )
    opened.goto(served.chair)
    yield opened
    opened.close()
    assert errors == []


def begun(page: Page) -> None:
    page.get_by_role("button", name="Start the sound").click()
    page.get_by_role("button", name="Ada").click()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#sheet")).to_have_attribute("data-screen", "hear")


def on_offer(page: Page, trial: int) -> None:
    expect(page.locator("#count")).to_have_text(f"trial {trial} of 8")
    expect(page.locator("#sheet")).to_have_attribute("data-screen", "hear")


def heard(page: Page, *labels: str) -> None:
    for label in labels:
        page.keyboard.press(label)
        expect(page.get_by_role("button", name=f"{label.upper()} ▶ playing")).to_be_visible()
        page.wait_for_timeout(150)


def answered(page: Page, choice: str) -> None:
    expect(page.get_by_role("button", name="Answer")).not_to_have_class("choice main pale")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet")).to_have_attribute("data-screen", "answer")
    page.keyboard.press(choice)
    expect(page.locator("#sheet")).to_have_attribute("data-screen", "sureness")
    page.keyboard.press("2")


def test_trials_by_keyboard_are_played_by_the_page_and_kept_with_what_was_heard(page: Page, served: Open) -> None:
    begun(page)
    heard(page, "a", "b", "x")
    answered(page, "a")
    on_offer(page, 2)
    heard(page, "x")
    answered(page, "b")
    on_offer(page, 3)
    with open_casebook(served.room.house.folder) as casebook:
        [session] = casebook.query("SELECT device FROM sessions")
        first = casebook.query(
            "SELECT stimulus, from_frame, to_frame FROM auditions JOIN trials ON trials.id = trial_id "
            "WHERE trial = 1 ORDER BY auditions.rowid"
        )
        answers = casebook.query("SELECT answer FROM answers")
        faults = casebook.query("SELECT kind, detail FROM faults")
    assert "the listener's browser" in session["device"]
    assert "44100 Hz" in session["device"]  # the passages are at 48000 Hz
    assert [row["stimulus"] for row in first] == ["A", "B", "X"]
    assert all(row["to_frame"] == after["from_frame"] for row, after in pairwise(first))
    assert [row["answer"] for row in answers] == ["A", "B"]
    assert faults == []


def test_a_page_that_is_loaded_again_goes_on_though_its_sounds_come_at_the_second_try(page: Page) -> None:
    begun(page)
    heard(page, "a", "b")
    lost: list[str] = []

    def cut(route: Route) -> None:
        lost.append(route.request.url)
        route.abort()

    page.route(re.compile(r"/chair/sounds/"), cut, times=3)
    page.reload()
    page.get_by_role("button", name="Start the sound").click()
    on_offer(page, 1)
    assert 0 < len(lost) <= 3
    heard(page, "x")
    answered(page, "b")
    on_offer(page, 2)


def test_pause_and_loop_are_done_where_the_sound_is(page: Page) -> None:
    begun(page)
    page.keyboard.press("x")
    page.wait_for_timeout(700)
    page.keyboard.press("i")
    expect(page.locator(".music")).to_contain_text("Loop: 0:00.")
    page.wait_for_timeout(700)
    page.keyboard.press("o")
    expect(page.locator(".music")).not_to_contain_text("to 0:03.0")
    page.keyboard.press("p")
    expect(page.locator(".music")).to_contain_text("paused at")
    page.wait_for_timeout(1000)  # the host has heard where it stands, after the fade
    held = page.locator(".music").text_content()
    page.wait_for_timeout(700)
    assert page.locator(".music").text_content() == held
    page.keyboard.press("p")
    expect(page.locator(".music")).not_to_contain_text("paused at")
    expect(page.locator(".music")).not_to_have_text(held or "")


def test_sound_that_the_browser_stops_disturbs_the_trial_which_comes_afresh_after_a_touch(
    page: Page, served: Open
) -> None:
    begun(page)
    heard(page, "a")
    page.evaluate("() => sound.suspend()")
    page.get_by_role("button", name="Start the sound").click()
    expect(page.get_by_role("status").filter(has_text="was disturbed (1 stall)")).to_be_visible()
    heard(page, "x")
    answered(page, "a")
    on_offer(page, 2)
    with open_casebook(served.room.house.folder) as casebook:
        [fault] = casebook.query("SELECT kind, count, detail FROM faults")
        [answer] = casebook.query("SELECT offer FROM answers JOIN trials ON trials.id = trial_id")
    assert (fault["kind"], fault["count"]) == ("stalls", 1)
    assert "the browser stopped the sound" in fault["detail"]
    assert answer["offer"] == 2
