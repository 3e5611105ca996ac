"""What never counts, in a real Chromium: free listening by page and practice; cut off, by touch and by keyboard."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from sessions.casebook.store import Casebook
from tests.answered_plans import sealed_plan
from tests.browsers import accessible, phone, press, rows, screen
from tests.pages import open_house, own_sound_house, served

pytestmark = pytest.mark.browser
expect.set_options(timeout=20_000)


def said(book: Casebook) -> list[dict[str, Any]]:
    sql = """SELECT term, strength, setups.name AS setup, passage, track_ms, blind, trial_id FROM words
             JOIN setups ON setups.id = setup_id JOIN word_places ON word_id = words.id ORDER BY words.seq"""
    return rows(book.folder, sql)


def begins(page: Page, listener: str = "Ada", *, look: bool = False) -> None:
    page.get_by_role("button", name="Listen freely").tap()
    page.locator("#name").fill(listener)
    expect(page.get_by_label("bracken", exact=True)).to_be_checked()
    page.get_by_label("sallow-late", exact=True).uncheck()
    if look:
        accessible(page)
    page.get_by_role("button", name="Begin to listen").tap()


def test_an_evening_of_free_listening_by_touch_keeps_words_with_one_tap_and_counts_nothing(
    page: Page, book: Casebook
) -> None:
    book.close()
    with served(book.folder, house_of=open_house) as opened:
        page.goto(opened.chair)
        begins(page, look=True)
        expect(page.get_by_text("nothing counts")).to_be_visible()
        accessible(page)
        page.get_by_role("button", name="boomy", exact=True).tap()
        expect(page.locator("#told")).to_contain_text("Play something first")
        page.get_by_role("button", name="bracken").tap()
        expect(page.get_by_role("button", name="bracken")).to_have_attribute("aria-pressed", "true")
        page.wait_for_timeout(300)
        page.get_by_label("4", exact=True).check(force=True)
        page.get_by_role("button", name="boomy", exact=True).tap()
        expect(page.locator("#told")).to_have_text("kept the word: boomy, bracken")
        again = page.get_by_role("button", name="Hear again: boomy 4")
        expect(again).to_be_visible()
        for target in page.locator("button:visible, summary:visible").all():
            box = target.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 44
        page.set_viewport_size({"width": 320, "height": 600})
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        press(page, "n")
        expect(page.locator("h1")).to_contain_text("strings")
        press(page, "a")
        expect(page.get_by_role("button", name="sallow")).to_have_attribute("aria-pressed", "true")
        press(page, "w")
        screen(page, "word")
        accessible(page)
        page.locator("#word").fill("airy 2 (the bow)")
        press(page, "Enter")
        expect(page.locator("#told")).to_have_text("kept the word: airy, sallow")
        press(page, "z")
        expect(page.locator("#told")).to_have_text("taken back: airy")
        page.get_by_role("button", name="End this evening").tap()
        screen(page, "who")
    [boomy, airy] = said(book)
    assert (boomy["term"], boomy["strength"], boomy["setup"], boomy["passage"]) == ("boomy", 4, "bracken", "drums 1")
    assert (boomy["blind"], boomy["trial_id"], airy["setup"], airy["passage"]) == (0, None, "sallow", "strings 1")
    [start] = rows(book.folder, "SELECT 1000 * start_frame / rate_hz AS ms FROM passages WHERE name = 'drums 1'")
    assert 0 < boomy["track_ms"] - start["ms"] < 3000
    assert [one["term"] for one in rows(book.folder, "SELECT term FROM words WHERE corrects IS NOT NULL")] == [""]
    [session] = rows(book.folder, "SELECT plan_id, rehearsal FROM sessions")
    assert session["plan_id"] is None
    assert json.loads(session["rehearsal"])["kind"] == "free listening"
    heard = rows(
        book.folder,
        "SELECT name, sum(to_ms - from_ms) AS ms FROM free_auditions JOIN setups ON setups.id = setup_id GROUP BY name",
    )
    assert {one["name"] for one in heard} == {"sallow", "bracken"}
    assert all(one["ms"] > 0 for one in heard)


def test_a_word_tapped_while_the_network_is_cut_is_kept_once(page: Page, book: Casebook) -> None:
    book.close()

    def swallowed(route: Any) -> None:
        route.fetch()
        route.abort()

    with served(book.folder, house_of=open_house) as opened:
        page.goto(opened.chair)
        begins(page)
        page.get_by_role("button", name="sallow").tap()
        expect(page.get_by_role("button", name="sallow")).to_have_attribute("aria-pressed", "true")
        page.context.set_offline(True)
        page.get_by_role("button", name="boomy", exact=True).tap()
        expect(page.get_by_text("One word is kept here until the connection is back.")).to_be_visible()
        page.context.set_offline(False)
        expect(page.get_by_role("button", name="Hear again: boomy 3")).to_be_visible()
        page.route("**/chair/word", swallowed)  # what is sent arrives; its answer does not
        page.get_by_role("button", name="tinny", exact=True).tap()
        expect(page.locator("#connection")).to_be_visible()
        page.unroute_all(behavior="wait")
        expect(page.get_by_role("button", name="Hear again: tinny 3")).to_be_visible()
        expect(page.locator("#connection")).to_be_hidden()
        page.wait_for_timeout(600)
    assert [one["term"] for one in said(book)] == ["boomy", "tinny"]


def test_practice_of_a_sealed_plan_is_called_practice_everywhere_and_leaves_the_test_as_it_was(
    page: Page, book: Casebook
) -> None:
    sealed_plan(book, method="abx", trials=5)
    book.close()
    with served(book.folder, house_of=open_house) as opened:
        page.goto(opened.chair)
        screen(page, "who")
        accessible(page)
        page.get_by_role("button", name="Practise a test").tap()
        accessible(page)
        page.get_by_role("button", name="Ada").tap()
        expect(page.locator("#where")).to_contain_text("(practice, never counted)")
        expect(page.get_by_text("This is practice: it never counts.")).to_be_visible()
        press(page, "Enter")
        for number in range(1, 6):
            expect(page.locator("#count")).to_have_text(f"trial {number} of 5")
            press(page, "x")
            expect(page.locator(".label", has_text="X")).to_have_attribute("aria-pressed", "true")
            press(page, "Enter")
            screen(page, "answer")
            press(page, "a")
            screen(page, "sureness")
            press(page, "1")
        screen(page, "end")
        accessible(page)
        page.get_by_role("button", name="Back to the beginning").tap()
        page.get_by_role("button", name="Ada").tap()
        expect(page.get_by_role("button", name="Begin")).to_be_visible()
        expect(page.locator("#where")).to_have_text("evening · Ada")
    sessions = rows(book.folder, "SELECT json_extract(rehearsal, '$.kind') AS kind FROM sessions ORDER BY seq")
    assert [one["kind"] for one in sessions] == ["practice", None]
    assert rows(book.folder, "SELECT count(*) AS n FROM answers") == [{"n": 5}]
    assert rows(book.folder, "SELECT count(*) AS n FROM openings") == [{"n": 0}]


def test_free_listening_from_the_browser_itself_switches_in_place_and_goes_to_a_words_moment(
    chromium: Browser, book: Casebook
) -> None:
    book.close()
    with served(book.folder, house_of=own_sound_house) as opened, phone(chromium) as page:
        page.goto(opened.chair)
        page.get_by_role("button", name="Start the sound").tap()
        begins(page)
        expect(page.get_by_text("has not started its sound")).to_have_count(0)  # it has: it was touched
        for name in ("sallow", "bracken"):
            page.get_by_role("button", name=name, exact=False).first.tap()
            expect(page.get_by_role("button", name=name).first).to_have_attribute("aria-pressed", "true")
            page.wait_for_timeout(400)
        page.get_by_role("button", name="boomy", exact=True).tap()
        again = page.get_by_role("button", name="Hear again: boomy 3")
        expect(again).to_be_visible()
        page.get_by_role("button", name="5 s on").tap()
        page.wait_for_timeout(300)
        again.tap()
        page.wait_for_timeout(600)
        press(page, "n")
        expect(page.locator("h1")).to_contain_text("strings")
        press(page, "b")
        expect(page.get_by_role("button", name="bracken").first).to_have_attribute("aria-pressed", "true")
        page.wait_for_timeout(300)
        page.get_by_role("button", name="End this evening").tap()
        screen(page, "who")
    sql = """SELECT setups.name AS setup, passage, from_ms, to_ms FROM free_auditions
             JOIN setups ON setups.id = setup_id ORDER BY free_auditions.seq"""
    heard = [tuple(one.values()) for one in rows(book.folder, sql)]
    assert [(setup, passage) for setup, passage, *_ in heard][:2] == [("sallow", "drums 1"), ("bracken", "drums 1")]
    assert heard[-1][:2] == ("bracken", "strings 1")
    assert 0 <= heard[1][2] - heard[0][3] <= 10  # it went on in the music where the other one fell silent
    [boomy] = said(book)
    assert heard[1][2] <= boomy["track_ms"] <= heard[1][3] + 5
    # heard again from two seconds before, as far as the passage goes
    assert any(abs(one[2] - max(heard[0][2], boomy["track_ms"] - 2000)) < 20 for one in heard[2:])


@pytest.mark.parametrize("own", [False, True])
def test_training_tells_after_each_answer_whether_it_was_right_and_makes_the_change_smaller(
    chromium: Browser, book: Casebook, own: bool
) -> None:
    sealed_plan(book, method="abx", trials=5)
    book.close()
    with served(book.folder, house_of=own_sound_house if own else open_house) as opened, phone(chromium) as page:
        page.goto(opened.chair)
        if own:
            page.get_by_role("button", name="Start the sound").tap()
        page.get_by_role("button", name="Train your ears").tap()
        page.get_by_label("What do you want to learn to hear?").select_option("lift-4000")
        accessible(page)
        page.get_by_role("button", name="Make it ready").tap()
        expect(page.get_by_role("heading")).to_contain_text("presence")
        accessible(page)
        press(page, "Enter")
        sizes = []
        for number in range(1, 4):
            expect(page.locator("#count")).to_have_text(f"trial {number}")
            expect(page.locator(".size")).to_be_visible()
            sizes.append(page.locator(".size").inner_text().partition(": ")[2])
            for label in "ABC":
                press(page, label.lower())
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
                page.wait_for_timeout(150)
            [seat] = opened.room._seats.values()
            changed = seat.ask(lambda chair: chair.listening.current.changed).result()  # type: ignore[attr-defined]
            right = number < 3
            named = "ABC"[changed if right else (changed + 1) % 3]
            page.get_by_role("button", name=f"{named} is changed").tap()
            expect(page.locator(".told-answer")).to_contain_text("Right." if right else "Not this time.")
            expect(page.locator(".told-answer")).to_contain_text(f"{'ABC'[changed]} was changed: more presence")
            expect(page.get_by_role("button", name="Next")).to_be_focused()
            if number == 1:
                accessible(page)
                press(page, "abc"[changed])
                expect(page.get_by_role("button", name=f"{'ABC'[changed]}, changed, playing")).to_be_visible()
            if number < 3:
                page.get_by_role("button", name="Next").tap()
        page.get_by_role("button", name="End the training").tap()
        screen(page, "who")
        told = page.locator("#page").inner_text()
    assert sizes == ["6 dB", "4.5 dB", "3 dB"]
    assert "dB" not in told
    kept = rows(book.folder, "SELECT trial, size, changed = named AS right FROM threshold_answers ORDER BY seq")
    assert [tuple(one.values()) for one in kept] == [(1, 7, 1), (2, 6, 1), (3, 5, 0)]
    [session] = rows(book.folder, "SELECT plan_id, json_extract(rehearsal, '$.kind') AS kind FROM sessions")
    assert session == {"plan_id": None, "kind": "training"}
    assert rows(book.folder, "SELECT count(*) AS n FROM answers") == [{"n": 0}]
